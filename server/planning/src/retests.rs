//! The shortest set of retests that gives people back the gates they need.
//!
//! Where attempts are in doubt, a person needs no retest for a gate that another clearance still opens, and one retest
//! may open several gates. The smallest set is found by trying all sets in order of size, which is exact; people have a
//! handful of respirators and gates.

use std::collections::BTreeSet;

use chrono::{DateTime, Utc};
use serde::Serialize;
use uuid::Uuid;

/// Gates of one person that are looked at; the most urgent ones first.
const GATES_MAX: usize = 128;

/// Respirators that differ in the gates they open, of one person, up to which all sets are tried.
const TRIED_MAX: usize = 16;

/// What a gate accepts by its policy now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GateAccepts {
    /// The gate.
    pub gate: Uuid,
    /// Whether no respirator is needed there.
    pub none_needed: bool,
    /// Respirators accepted there.
    pub respirators: Vec<Uuid>,
}

/// A gate that a person needs, such as one entered lately.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GateNeeded {
    /// The gate.
    pub gate: Uuid,
    /// When it is needed next, where that is known.
    pub next_at: Option<DateTime<Utc>>,
}

/// One person whose clearances are in doubt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Affected {
    /// The person.
    pub person: Uuid,
    /// The gates the person needs.
    pub gates: Vec<GateNeeded>,
    /// Respirators with a clearance that is not in doubt.
    pub undoubted: Vec<Uuid>,
    /// Respirators that could be tested again, the preferred one first. A respirator after a fail is none of them.
    pub retestable: Vec<Uuid>,
}

/// One retest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Retest {
    /// The respirator to test.
    pub respirator: Uuid,
    /// The needed gates it opens, in order of their ids.
    pub gates: Vec<Uuid>,
}

/// What one person needs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PersonRetests {
    /// The person.
    pub person: Uuid,
    /// When one of the gates that wait for a retest is needed next; none where that is not known, or none waits.
    pub needed_at: Option<DateTime<Utc>>,
    /// The retests, the preferred respirator first. Empty where none helps or none is needed.
    pub retests: Vec<Retest>,
    /// Needed gates that stay open without a retest, in order of their ids.
    pub open_gates: Vec<Uuid>,
    /// Needed gates that no retest opens: the person needs another respirator, or the gate has no policy.
    pub uncoverable: Vec<Uuid>,
    /// Whether no smaller set would do. Not so only for a person with very many respirators, or with gates left out.
    pub shortest: bool,
    /// Needed gates beyond the first 128, which were not looked at.
    pub left_out: usize,
}

/// A respirator and the needed gates it opens, as bits.
#[derive(Clone, Copy)]
struct Choice {
    respirator: Uuid,
    opens: u128,
}

/// The retests of every affected person: whoever needs a closed gate soonest comes first, whoever needs none last.
pub fn retests(people: &[Affected], gates: &[GateAccepts]) -> Vec<PersonRetests> {
    let mut all: Vec<_> = people.iter().map(|person| of_person(person, gates)).collect();
    all.sort_by_key(|retests| {
        let nothing_to_do = retests.retests.is_empty() && retests.uncoverable.is_empty();
        (nothing_to_do, retests.needed_at.is_none(), retests.needed_at, retests.person)
    });
    all
}

fn of_person(person: &Affected, gates: &[GateAccepts]) -> PersonRetests {
    let needed = distinct(&person.gates);
    let left_out = needed.len().saturating_sub(GATES_MAX);
    let (mut open, mut closed, mut uncoverable) = (Vec::new(), Vec::new(), Vec::new());
    for need in needed.into_iter().take(GATES_MAX) {
        match gates.iter().find(|accepts| accepts.gate == need.gate) {
            Some(accepts) if opens(accepts, &person.undoubted) => open.push(need.gate),
            Some(accepts) if opens(accepts, &person.retestable) => closed.push((need, accepts)),
            _ => uncoverable.push(need),
        }
    }
    let choices = choices(&person.retestable, &closed);
    let all = choices.iter().fold(0, |bits, choice| bits | choice.opens);
    let exact = choices.len() <= TRIED_MAX;
    let chosen = if exact { smallest(&choices, all) } else { greedy(&choices, all) };
    let waiting = closed.iter().map(|(need, _)| need).chain(&uncoverable);
    let needed_at = waiting.filter_map(|need| need.next_at).min();
    PersonRetests {
        person: person.person,
        needed_at,
        retests: chosen.iter().map(|choice| retest(choice, &closed)).collect(),
        open_gates: sorted(open),
        uncoverable: sorted(uncoverable.iter().map(|need| need.gate)),
        shortest: exact && left_out == 0,
        left_out,
    }
}

/// Every gate once, with the soonest moment it is needed, the most urgent first.
fn distinct(needed: &[GateNeeded]) -> Vec<GateNeeded> {
    let mut needed = needed.to_vec();
    needed.sort_by_key(|need| (need.next_at.is_none(), need.next_at, need.gate));
    let mut seen = BTreeSet::new();
    needed.retain(|need| seen.insert(need.gate));
    needed
}

fn opens(gate: &GateAccepts, respirators: &[Uuid]) -> bool {
    gate.none_needed || respirators.iter().any(|respirator| gate.respirators.contains(respirator))
}

/// The respirators worth trying, in the order of preference: none that opens nothing, and none that opens no more than
/// a preferred one.
fn choices(retestable: &[Uuid], closed: &[(GateNeeded, &GateAccepts)]) -> Vec<Choice> {
    let mut choices: Vec<Choice> = Vec::new();
    for respirator in retestable {
        let mut opens = 0;
        for (place, (_, gate)) in closed.iter().enumerate() {
            if gate.respirators.contains(respirator) {
                opens |= 1_u128 << place;
            }
        }
        if !choices.iter().any(|preferred| preferred.opens | opens == preferred.opens) && opens != 0 {
            choices.push(Choice { respirator: *respirator, opens });
        }
    }
    choices
}

/// The smallest set that opens `all`; among equally small ones the one whose first respirator is preferred, then the
/// second, and so on.
fn smallest(choices: &[Choice], all: u128) -> Vec<Choice> {
    for size in 0..=choices.len() {
        let mut chosen = Vec::new();
        if pick(choices, all, size, &mut chosen) {
            return chosen;
        }
    }
    Vec::new()
}

/// Tries sets of `size` more choices in the order of preference.
fn pick(choices: &[Choice], missing: u128, size: usize, chosen: &mut Vec<Choice>) -> bool {
    if missing == 0 {
        return true;
    }
    if size == 0 {
        return false;
    }
    for (place, choice) in choices.iter().enumerate() {
        let later = choices.get(place..).unwrap_or_default();
        // What the rest cannot open together, no set of them opens.
        if missing & !later.iter().fold(0, |bits, choice| bits | choice.opens) != 0 {
            return false;
        }
        chosen.push(*choice);
        if pick(later.get(1..).unwrap_or_default(), missing & !choice.opens, size - 1, chosen) {
            return true;
        }
        chosen.pop();
    }
    false
}

/// A small set, where there are too many choices to try all: always the one that opens most.
fn greedy(choices: &[Choice], all: u128) -> Vec<Choice> {
    let (mut chosen, mut missing) = (Vec::new(), all);
    while missing != 0 {
        // The last of equals would win, so the preferred ones are looked at last.
        let best = choices.iter().rev().max_by_key(|choice| (choice.opens & missing).count_ones());
        let Some(best) = best else { break };
        missing &= !best.opens;
        chosen.push(*best);
    }
    chosen
}

fn retest(choice: &Choice, closed: &[(GateNeeded, &GateAccepts)]) -> Retest {
    let opened = closed.iter().filter(|(_, gate)| gate.respirators.contains(&choice.respirator));
    Retest { respirator: choice.respirator, gates: sorted(opened.map(|(need, _)| need.gate)) }
}

fn sorted(ids: impl IntoIterator<Item = Uuid>) -> Vec<Uuid> {
    let mut ids: Vec<_> = ids.into_iter().collect();
    ids.sort_unstable();
    ids
}
