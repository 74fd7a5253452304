//! When a clock is believed.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_gate::clock::Reading;
use sellion_gate::doubt::{Doubt, Mark};

fn morning() -> DateTime<Utc> {
    "2026-11-27T06:00:00Z".parse().unwrap()
}

/// A reading some seconds on, with the clock set ahead by some more.
fn reading(passed: i64, ahead: i64, boot: &str) -> Reading {
    Reading {
        wall: morning() + TimeDelta::seconds(passed + ahead),
        steady_ms: 1_000_000 + passed * 1_000,
        boot: boot.to_owned(),
    }
}

fn first() -> Mark {
    Mark::look(None, reading(0, 0, "a"))
}

#[test]
fn a_clock_that_runs_with_the_counter_is_believed() {
    let mark = Mark::look(Some(first()), reading(86_400, 119, "a"));
    assert_eq!(mark.doubt(Some(morning())), None);
}

#[test]
fn a_clock_that_jumps_is_not_until_the_server_or_a_person_speaks_for_it() {
    let back = Mark::look(Some(first()), reading(60, -3_600, "a"));
    assert_eq!(back.doubt(None), Some(Doubt::JumpedBack(3_600)));
    let on = Mark::look(Some(back.clone()), reading(120, -3_600, "a"));
    assert_eq!(on.doubt(None), Some(Doubt::JumpedBack(3_600)), "it does not go away by waiting");
    assert_eq!(on.clone().confirmed().doubt(None), None);
    let agreed = on.met_server(morning() + TimeDelta::seconds(120 - 3_600));
    assert_eq!(agreed.doubt(None), None);
    let ahead = Mark::look(Some(first()), reading(60, 86_400, "a"));
    assert_eq!(ahead.doubt(None), Some(Doubt::JumpedAhead(86_400)));
}

#[test]
fn after_a_restart_only_a_step_back_can_be_told() {
    let back = Mark::look(Some(first()), reading(0, -600, "b"));
    assert_eq!(back.doubt(None), Some(Doubt::JumpedBack(600)));
    assert_eq!(Mark::look(Some(first()), reading(0, 864_000, "b")).doubt(None), None);
}

#[test]
fn the_servers_clock_is_believed_unless_a_person_looked_at_another() {
    let differs = first().met_server(morning() + TimeDelta::seconds(900));
    assert_eq!(differs.doubt(None), Some(Doubt::ServerDiffers(900)));
    let confirmed = differs.confirmed();
    assert_eq!(confirmed.doubt(None), None);
    let again = Mark::look(Some(confirmed), reading(60, 0, "a"));
    let same = again.clone().met_server(morning() + TimeDelta::seconds(960));
    assert_eq!(same.doubt(None), None, "the difference that was looked at");
    let other = again.met_server(morning() + TimeDelta::seconds(9_000));
    assert_eq!(other.doubt(None), Some(Doubt::ServerDiffers(8_940)), "another one");
}

#[test]
fn nobody_speaks_against_a_pack_from_the_future() {
    let known_at = morning() + TimeDelta::seconds(3_600);
    assert_eq!(first().confirmed().doubt(Some(known_at)), Some(Doubt::BeforePack(3_600)));
}

#[test]
fn a_moment_shown_wrong_is_worked_out_from_the_counter() {
    let met = first().met_server(morning());
    let wrong = reading(600, -86_400, "a");
    let mark = Mark::look(Some(met), reading(900, -86_400, "a"));
    assert_eq!(mark.worked_out(&wrong), Some(morning() + TimeDelta::seconds(600)));
    let right = reading(600, 30, "a");
    assert_eq!(mark.worked_out(&right), None, "the clock is taken as it is where it is near enough");
    let before_restart = reading(864_000, 0, "z");
    assert_eq!(
        mark.worked_out(&before_restart),
        Some(morning() + TimeDelta::seconds(900)),
        "no later than now"
    );
}
