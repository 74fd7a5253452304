//! The shortest set of retests that gives the people of a look-back their gates back.

use std::collections::HashMap;

use sellion_planning::retests::{Affected, GateAccepts, GateNeeded, PersonRetests, retests};
use sellion_rules::clearance::ClearanceState;
use sellion_store::{look_back::PersonDetail, policy::Accepting};
use uuid::Uuid;

/// What each person has to be tested on again, by person.
///
/// A person needs the gates where they were let in since the first doubtful pass; whoever went in nowhere yet, those
/// where something is accepted that they lost.
pub(super) fn shortest(people: &[PersonDetail], gates: &[Accepting]) -> HashMap<Uuid, PersonRetests> {
    let accepts: Vec<GateAccepts> = gates
        .iter()
        .map(|gate| GateAccepts {
            gate: gate.gate_id,
            none_needed: gate.none_needed,
            respirators: gate.respirators.clone(),
        })
        .collect();
    let affected: Vec<Affected> = people.iter().map(|person| of_person(person, &accepts)).collect();
    retests(&affected, &accepts).into_iter().map(|found| (found.person, found)).collect()
}

fn of_person(person: &PersonDetail, gates: &[GateAccepts]) -> Affected {
    let lost: Vec<Uuid> = person.retests().map(|(respirator, _)| respirator).collect();
    let entered: Vec<Uuid> = person.entries.iter().map(|entries| entries.gate_id).collect();
    let opened = |gate: &&GateAccepts| gate.respirators.iter().any(|accepted| lost.contains(accepted));
    let needed = if entered.is_empty() {
        gates.iter().filter(opened).map(|gate| gate.gate).collect()
    } else {
        entered
    };
    let undoubted = person.clearances.iter().filter(|doubt| {
        doubt.without_possible.state == ClearanceState::Cleared && !lost.contains(&doubt.respirator_id)
    });
    // Without anything lost there is nothing to give back, whatever the gates say.
    let gates = if lost.is_empty() { Vec::new() } else { needed };
    Affected {
        person: person.found.person_id,
        gates: gates.into_iter().map(|gate| GateNeeded { gate, next_at: None }).collect(),
        undoubted: undoubted.map(|doubt| doubt.respirator_id).collect(),
        retestable: lost,
    }
}
