//! Clearance: the newest attempt that counts, due days, permission, lot stops, leaving, and the two clocks.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use sellion_rules::attempt::Outcome;
use sellion_rules::clearance::{
    AttemptResult, Clearance, ClearanceReason as Reason, ClearanceState as State, LeavingFact,
    PersonRespiratorFacts, StopFact, clearance,
};
use sellion_rules::method::Method;
use sellion_rules::permission::{Decision, PermissionFact, in_force};

use sellion_rules::respirator::AirSupply;

use crate::support::{id, rules, utc};

const ZONE: Tz = chrono_tz::Europe::Berlin;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn result(number: u128, outcome: Outcome, ended_at: &str) -> AttemptResult {
    let ended_at = utc(ended_at);
    AttemptResult {
        id: id(number),
        method: Method::Saccharin,
        outcome,
        testing_started_at: Some(ended_at - chrono::TimeDelta::minutes(8)),
        ended_at,
        recorded_at: ended_at,
        corrected_recorded_at: None,
        stops: Vec::new(),
    }
}

fn permission(number: u128, decision: Decision, from: &str, until: Option<&str>) -> PermissionFact {
    let happened_at = day(from).and_time(chrono::NaiveTime::MIN).and_utc();
    PermissionFact {
        id: id(number),
        decision,
        valid_from: day(from),
        valid_until: until.map(day),
        happened_at,
        recorded_at: happened_at,
    }
}

fn facts(attempts: Vec<AttemptResult>) -> PersonRespiratorFacts {
    PersonRespiratorFacts {
        attempts,
        permissions: vec![permission(1, Decision::Permitted, "2020-01-01", None)],
        leaving: None,
        supply: AirSupply::AirPurifying,
        protection_factor: 10,
    }
}

fn at(facts: &PersonRespiratorFacts, moment: &str) -> Clearance {
    let moment = utc(moment);
    clearance(facts, &rules(), ZONE, moment, moment)
}

fn state(facts: &PersonRespiratorFacts, moment: &str) -> (State, Vec<Reason>) {
    let clearance = at(facts, moment);
    (clearance.state, clearance.reasons)
}

fn cleared() -> (State, Vec<Reason>) {
    (State::Cleared, Vec::new())
}

fn not_cleared(reasons: &[Reason]) -> (State, Vec<Reason>) {
    (State::NotCleared, reasons.to_vec())
}

/// 29 CFR 1910.134(f)(2) (fact 1.20, fact 10.28): no test of this very respirator, no clearance.
#[test]
fn fact_1_20_never_tested() {
    assert_eq!(state(&facts(Vec::new()), "2027-03-10T12:00:00Z"), not_cleared(&[Reason::NeverTested]));
    let voids = vec![
        result(2, Outcome::Void, "2027-03-08T10:00:00Z"),
        result(3, Outcome::Stopped, "2027-03-08T11:00:00Z"),
    ];
    assert_eq!(state(&facts(voids), "2027-03-10T12:00:00Z"), not_cleared(&[Reason::NeverTested]));
}

/// 29 CFR 1910.134(f)(2) (fact 10.31): the cautious reading, through the end of the local day.
#[test]
fn fact_10_31_tested_on_10_march_covers_through_10_march_a_year_later() {
    let facts = facts(vec![result(2, Outcome::Pass, "2025-03-10T10:00:00Z")]);
    let clearance = at(&facts, "2026-03-10T22:59:59Z");
    assert_eq!(clearance.state, State::Cleared);
    assert_eq!((clearance.tested_on, clearance.due_on), (Some(day("2025-03-10")), Some(day("2026-03-10"))));
    assert_eq!(clearance.valid_from, Some(utc("2025-03-10T10:00:00Z")));
    assert_eq!(clearance.valid_until, Some(utc("2026-03-10T23:00:00Z")), "midnight in the site's zone");
    assert_eq!(clearance.basis_attempt, Some(id(2)));
    assert_eq!(state(&facts, "2026-03-10T23:00:00Z"), not_cleared(&[Reason::Overdue]));
    let overdue = at(&facts, "2026-03-11T10:00:00Z");
    assert_eq!((overdue.valid_from, overdue.valid_until), (None, None));
    assert_eq!(overdue.due_on, Some(day("2026-03-10")), "the due day is still told");
}

/// Fact 10.32 and the leap day between: both readings are told and the earlier one counts.
#[test]
fn fact_10_32_the_leap_day() {
    let across = at(&facts(vec![result(2, Outcome::Pass, "2027-03-01T10:00:00Z")]), "2027-06-01T10:00:00Z");
    assert_eq!(across.due_anniversary, Some(day("2028-03-01")));
    assert_eq!(across.due_strict, Some(day("2028-02-29")));
    assert_eq!(across.due_on, Some(day("2028-02-29")));
    let on_it = at(&facts(vec![result(2, Outcome::Pass, "2028-02-29T10:00:00Z")]), "2028-06-01T10:00:00Z");
    assert_eq!(on_it.due_anniversary, Some(day("2029-02-28")));
    assert_eq!(on_it.due_strict, Some(day("2029-02-28")));
    assert_eq!(on_it.due_on, Some(day("2029-02-28")));
}

/// A run across midnight belongs to the local day of its first dose.
#[test]
fn the_day_of_the_test_is_the_day_of_the_first_dose() {
    let mut late = result(2, Outcome::Pass, "2027-03-08T23:05:00Z");
    late.testing_started_at = Some(utc("2027-03-08T22:57:00Z"));
    assert_eq!(at(&facts(vec![late]), "2027-03-09T10:00:00Z").tested_on, Some(day("2027-03-08")));
}

#[test]
fn a_newer_fail_ends_an_older_pass_at_once() {
    let both = facts(vec![
        result(3, Outcome::Fail, "2027-09-01T10:00:00Z"),
        result(2, Outcome::Pass, "2027-03-08T10:00:00Z"),
    ]);
    assert_eq!(state(&both, "2027-09-01T09:59:59Z"), cleared());
    assert_eq!(state(&both, "2027-09-01T10:00:00Z"), not_cleared(&[Reason::NewestIsFail]));
    assert_eq!(at(&both, "2027-09-02T10:00:00Z").basis_attempt, Some(id(3)));
    let mut retested = both;
    retested.attempts.push(result(4, Outcome::Pass, "2027-09-02T10:00:00Z"));
    assert_eq!(state(&retested, "2027-09-03T10:00:00Z"), cleared());
    let same_instant = facts(vec![
        result(9, Outcome::Pass, "2027-03-08T10:00:00Z"),
        result(2, Outcome::Fail, "2027-03-08T10:00:00Z"),
    ]);
    assert_eq!(state(&same_instant, "2027-03-09T10:00:00Z"), not_cleared(&[Reason::NewestIsFail]));
}

#[test]
fn void_and_stopped_runs_leave_an_older_pass_standing() {
    let facts = facts(vec![
        result(2, Outcome::Pass, "2027-03-08T10:00:00Z"),
        result(3, Outcome::Void, "2027-09-01T10:00:00Z"),
        result(4, Outcome::Stopped, "2027-09-02T10:00:00Z"),
    ]);
    assert_eq!(state(&facts, "2027-09-03T10:00:00Z"), cleared());
}

/// 29 CFR 1910.134(e)(1) (fact 1.6).
#[test]
fn fact_1_6_permission_bounds_the_clearance() {
    let mut facts = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    facts.permissions = vec![permission(1, Decision::Permitted, "2027-01-01", Some("2027-06-30"))];
    let within = at(&facts, "2027-06-30T21:59:59Z");
    assert_eq!((within.state, within.valid_until), (State::Cleared, Some(utc("2027-06-30T22:00:00Z"))));
    assert_eq!(state(&facts, "2027-06-30T22:00:00Z"), not_cleared(&[Reason::NoPermission]));
    facts.permissions.push(permission(2, Decision::Permitted, "2027-08-01", None));
    let renewed = at(&facts, "2027-08-02T10:00:00Z");
    assert_eq!((renewed.state, renewed.valid_from), (State::Cleared, Some(utc("2027-07-31T22:00:00Z"))));
    // Told in August: not from September on. Until then nothing changes but the end.
    facts.permissions.push(PermissionFact {
        happened_at: utc("2027-08-10T10:00:00Z"),
        recorded_at: utc("2027-08-10T10:00:00Z"),
        ..permission(3, Decision::NotNow, "2027-09-01", None)
    });
    let announced = at(&facts, "2027-08-20T10:00:00Z");
    assert_eq!((announced.state, announced.valid_until), (State::Cleared, Some(utc("2027-08-31T22:00:00Z"))));
    assert_eq!(state(&facts, "2027-09-02T10:00:00Z"), not_cleared(&[Reason::NoPermission]));
}

#[test]
fn the_newest_decision_governs_alone() {
    let history = [
        permission(1, Decision::Permitted, "2027-01-01", None),
        permission(2, Decision::PermittedWithLimits, "2027-02-01", Some("2027-03-01")),
        permission(3, Decision::Permitted, "2027-06-01", None),
    ];
    let in_force = |text: &str| in_force(&history, day(text)).map(|fact| fact.id);
    assert_eq!(in_force("2026-12-31"), None);
    assert_eq!(in_force("2027-01-15"), Some(id(1)));
    assert_eq!(in_force("2027-03-01"), Some(id(2)));
    assert_eq!(in_force("2027-03-02"), None, "an older one does not come back to life");
    assert_eq!(in_force("2027-06-01"), Some(id(3)));
}

#[test]
fn leaving_ends_the_clearance_with_the_last_day() {
    let mut facts = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    facts.leaving =
        Some(LeavingFact { last_day: day("2027-05-31"), recorded_at: utc("2027-05-01T08:00:00Z") });
    assert_eq!(at(&facts, "2027-05-20T10:00:00Z").valid_until, Some(utc("2027-05-31T22:00:00Z")));
    assert_eq!(state(&facts, "2027-05-31T21:59:00Z"), cleared());
    assert_eq!(state(&facts, "2027-05-31T22:00:00Z"), not_cleared(&[Reason::PersonInactive]));
}

/// 29 CFR 1910.134(f)(6) (fact 1.25, fact 10.26).
#[test]
fn fact_1_25_a_taste_test_clears_up_to_a_fit_factor_of_100() {
    let mut facts = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    assert_eq!(state(&facts, "2027-04-01T10:00:00Z"), cleared());
    facts.protection_factor = 50;
    assert_eq!(state(&facts, "2027-04-01T10:00:00Z"), not_cleared(&[Reason::MethodNotAllowed]));
}

fn stopped(recorded_at: &str, released: Option<&str>) -> StopFact {
    StopFact {
        stop: id(90),
        of_lot: true,
        recorded_at: utc(recorded_at),
        released_recorded_at: released.map(utc),
    }
}

#[test]
fn a_stopped_lot_holds_what_stands_only_on_it() {
    let mut doubtful = result(2, Outcome::Pass, "2027-03-08T10:00:00Z");
    doubtful.stops = vec![stopped("2027-04-01T10:00:00Z", Some("2027-04-20T10:00:00Z"))];
    let alone = facts(vec![doubtful.clone()]);
    assert_eq!(state(&alone, "2027-04-01T09:59:59Z"), cleared());
    let held = at(&alone, "2027-04-02T10:00:00Z");
    assert_eq!(
        (held.state, held.reasons, held.basis_attempt),
        (State::Held, vec![Reason::LotStopped], Some(id(2)))
    );
    assert_eq!(held.valid_until, Some(utc("2028-03-07T23:00:00Z")), "365 days, the leap day among them");
    assert_eq!(state(&alone, "2027-04-20T10:00:00Z"), cleared(), "released");

    let behind = facts(vec![doubtful.clone(), result(3, Outcome::Pass, "2026-09-01T10:00:00Z")]);
    let older = at(&behind, "2027-04-02T10:00:00Z");
    assert_eq!((older.state, older.basis_attempt), (State::Cleared, Some(id(3))));
    assert_eq!(older.due_on, Some(day("2027-09-01")), "by the older pass");

    let overdue = facts(vec![doubtful.clone(), result(3, Outcome::Pass, "2026-04-01T10:00:00Z")]);
    assert_eq!(state(&overdue, "2027-04-02T10:00:00Z"), (State::Held, vec![Reason::LotStopped]));

    let failed_before = facts(vec![
        doubtful.clone(),
        result(3, Outcome::Fail, "2027-03-01T10:00:00Z"),
        result(4, Outcome::Pass, "2026-09-01T10:00:00Z"),
    ]);
    assert_eq!(state(&failed_before, "2027-04-02T10:00:00Z"), (State::Held, vec![Reason::LotStopped]));

    let mut without_permission = facts(vec![doubtful]);
    without_permission.permissions.clear();
    let reasons = [Reason::NoPermission, Reason::LotStopped];
    assert_eq!(state(&without_permission, "2027-04-02T10:00:00Z"), not_cleared(&reasons));
}

#[test]
fn a_fail_is_never_in_doubt() {
    let mut failed = result(2, Outcome::Fail, "2027-03-08T10:00:00Z");
    failed.stops = vec![stopped("2027-03-09T10:00:00Z", None)];
    let facts = facts(vec![failed, result(3, Outcome::Pass, "2027-01-01T10:00:00Z")]);
    assert_eq!(state(&facts, "2027-03-10T10:00:00Z"), not_cleared(&[Reason::NewestIsFail]));
}

/// The same question about the same moment, asked with the knowledge of then and of now.
#[test]
fn the_two_clocks() {
    let known = |facts: &PersonRespiratorFacts, at: &str, known_at: &str| {
        clearance(facts, &rules(), ZONE, utc(at), utc(known_at)).state
    };
    // A fail on Monday that a station without network handed in on Wednesday.
    let mut late = result(3, Outcome::Fail, "2027-09-06T10:00:00Z");
    late.recorded_at = utc("2027-09-08T10:00:00Z");
    let facts_late = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z"), late]);
    assert_eq!(known(&facts_late, "2027-09-07T10:00:00Z", "2027-09-07T10:00:00Z"), State::Cleared);
    assert_eq!(known(&facts_late, "2027-09-07T10:00:00Z", "2027-09-08T10:00:00Z"), State::NotCleared);
    assert_eq!(known(&facts_late, "2027-09-05T10:00:00Z", "2027-09-09T10:00:00Z"), State::Cleared);

    // A pass that was another person's, corrected a day later.
    let mut swapped = result(2, Outcome::Pass, "2027-03-08T10:00:00Z");
    swapped.corrected_recorded_at = Some(utc("2027-03-09T10:00:00Z"));
    let facts_swapped = facts(vec![swapped]);
    assert_eq!(known(&facts_swapped, "2027-03-08T12:00:00Z", "2027-03-09T09:59:59Z"), State::Cleared);
    assert_eq!(known(&facts_swapped, "2027-03-08T12:00:00Z", "2027-03-09T10:00:00Z"), State::NotCleared);

    // A permission withdrawn with effect from an earlier day.
    let mut withdrawn = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    withdrawn.permissions.push(PermissionFact {
        happened_at: utc("2027-05-03T08:00:00Z"),
        recorded_at: utc("2027-05-03T09:00:00Z"),
        ..permission(2, Decision::NotNow, "2027-05-01", None)
    });
    assert_eq!(known(&withdrawn, "2027-05-02T10:00:00Z", "2027-05-02T10:00:00Z"), State::Cleared);
    assert_eq!(known(&withdrawn, "2027-05-02T10:00:00Z", "2027-05-04T10:00:00Z"), State::NotCleared);
    assert_eq!(known(&withdrawn, "2027-04-30T10:00:00Z", "2027-05-04T10:00:00Z"), State::Cleared);

    // A leaver of whom the gates heard a week later.
    let mut left = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    left.leaving =
        Some(LeavingFact { last_day: day("2027-05-31"), recorded_at: utc("2027-06-07T08:00:00Z") });
    assert_eq!(known(&left, "2027-06-02T10:00:00Z", "2027-06-02T10:00:00Z"), State::Cleared);
    assert_eq!(known(&left, "2027-06-02T10:00:00Z", "2027-06-07T08:00:00Z"), State::NotCleared);
}

#[test]
fn no_moment_panics() {
    let mut facts = facts(vec![result(2, Outcome::Pass, "2027-03-08T10:00:00Z")]);
    let ends = [DateTime::<Utc>::MIN_UTC, DateTime::<Utc>::MAX_UTC, utc("2027-03-08T10:00:00Z")];
    for zone in [ZONE, chrono_tz::Pacific::Kiritimati, chrono_tz::Etc::GMTPlus12] {
        for at in ends {
            for ended_at in ends {
                facts.attempts[0].ended_at = ended_at;
                facts.attempts[0].testing_started_at = Some(ended_at);
                facts.permissions[0].valid_from = NaiveDate::MIN;
                facts.leaving = Some(LeavingFact { last_day: NaiveDate::MAX, recorded_at: at });
                let _ = clearance(&facts, &rules(), zone, at, DateTime::<Utc>::MAX_UTC);
            }
        }
    }
}

#[test]
fn what_is_in_doubt_beside_lots_holds_as_well_and_says_so() {
    let other = StopFact { of_lot: false, ..stopped("2027-04-01T10:00:00Z", Some("2027-04-20T10:00:00Z")) };
    let mut doubtful = result(2, Outcome::Pass, "2027-03-08T10:00:00Z");
    doubtful.stops = vec![other];
    let alone = facts(vec![doubtful.clone()]);
    assert_eq!(state(&alone, "2027-04-02T10:00:00Z"), (State::Held, vec![Reason::InDoubt]));
    assert_eq!(state(&alone, "2027-04-20T10:00:00Z"), cleared(), "released");
    doubtful.stops = vec![other, stopped("2027-04-10T10:00:00Z", None), other];
    let both = facts(vec![doubtful]);
    let reasons = vec![Reason::LotStopped, Reason::InDoubt];
    assert_eq!(state(&both, "2027-04-11T10:00:00Z"), (State::Held, reasons));
    assert_eq!(state(&both, "2027-04-21T10:00:00Z"), (State::Held, vec![Reason::LotStopped]));
}
