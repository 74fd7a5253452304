//! How a screening and an attempt go with one person, as the events a station would post.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};

use super::invent::{Mishap, Traits};

/// Squeezes in one set of the screening.
const SET: u8 = 10;
/// Sets at most.
const SETS: u8 = 3;

/// The two agents, by their wire names.
pub(super) const SWEET: &str = "saccharin";
pub(super) const BITTER: &str = "denatonium_benzoate";

/// Events with their times; the sequence numbers are added when they are posted.
pub(super) type Events = Vec<(DateTime<Utc>, Value)>;

fn later(at: DateTime<Utc>, seconds: i64) -> DateTime<Utc> {
    at + TimeDelta::seconds(seconds)
}

/// The screening of somebody with an agent.
pub(super) fn screening(traits: &Traits, agent: &str, start: DateTime<Utc>) -> Events {
    let tasted_at = if agent == SWEET { traits.sweet_at } else { traits.bitter_at };
    let mut at = later(start, 20);
    let mut events = vec![(at, json!({ "kind": "explained" }))];
    for set in 0..SETS {
        at = later(at, 30);
        let here = tasted_at.filter(|squeeze| *squeeze <= (set + 1) * SET).map(|squeeze| squeeze - set * SET);
        let squeezes = here.unwrap_or(SET);
        events.push((at, json!({ "kind": "set_done", "tasted": here.is_some(), "squeezes": squeezes })));
        if here.is_some() {
            break;
        }
    }
    events
}

/// The attempt of somebody on the respirator with this place in the offer, by the server's plan.
pub(super) fn attempt(
    traits: &Traits,
    respirator: usize,
    mishap: Option<Mishap>,
    plan: &Value,
    start: DateTime<Utc>,
) -> Events {
    let seconds = |value: &Value| value.as_i64().unwrap_or_default();
    let doses = &plan["doses"];
    let donned = later(start, 45);
    let hooded = later(donned, seconds(&plan["wear_seconds"]) + 5);
    let first_dose = later(hooded, 10);
    let mut events = vec![
        (donned, json!({ "kind": "donned", "by_wearer": true })),
        (later(donned, 30), json!({ "kind": "seal_checked", "result": "ok" })),
        (hooded, json!({ "kind": "hooded", "taste_gone": true })),
        (first_dose, json!({ "kind": "dose_given", "squeezes": doses["first_dose"] })),
    ];
    let mut at = later(first_dose, 2);
    let mut exercises = Vec::new();
    for exercise in plan["exercises"].as_array().into_iter().flatten() {
        let end = later(at, seconds(&exercise["seconds"]));
        events.push((at, json!({ "kind": "exercise_started", "number": exercise["number"] })));
        events.push((end, json!({ "kind": "exercise_ended", "number": exercise["number"] })));
        exercises.push((at, end));
        at = later(end, 1);
    }
    let end = exercises.last().map_or(at, |(_, end)| *end);
    let interval = seconds(&doses["redose_interval_seconds"]).max(1);
    let later_doses = (1..).map(|dose| later(first_dose, dose * interval)).take_while(|at| *at < end);
    events.extend(later_doses.map(|at| (at, json!({ "kind": "dose_given", "squeezes": doses["redose"] }))));
    events.sort_by_key(|(at, _)| *at);
    let clear = mishap != Some(Mishap::Clogged);
    events.push((later(end, 10), json!({ "kind": "asked_again", "tasted": false, "comfortable": true })));
    events.push((later(end, 25), json!({ "kind": "nebulizer_checked", "clear": clear })));
    if let Some((exercise, second, word)) = sudden(traits, respirator, mishap) {
        cut(&mut events, later(exercises.get(exercise - 1).map_or(first_dose, |(at, _)| *at), second), word);
    }
    let last = events.last().map_or(start, |(at, _)| *at);
    events.push((later(last, 5), json!({ "kind": "signed" })));
    events
}

/// What breaks into the exercises: in which, at which second, and the event's name.
fn sudden(traits: &Traits, respirator: usize, mishap: Option<Mishap>) -> Option<(usize, i64, &'static str)> {
    match mishap {
        Some(Mishap::Unwell) => Some((1, 40, "unwell")),
        Some(Mishap::Interrupted) => Some((2, 25, "interrupted")),
        Some(Mishap::Adjusts) => Some((3, 12, "adjusted")),
        Some(Mishap::Clogged) | None => {
            let leak = traits.leaks.get(respirator).copied().flatten()?;
            Some((usize::from(leak), 33, "tasted"))
        }
    }
}

/// Ends the run at a moment with one last event.
fn cut(events: &mut Events, at: DateTime<Utc>, word: &str) {
    events.retain(|(when, _)| *when < at);
    events.push((at, json!({ "kind": word })));
}
