//! The shortest set of retests, against trying everything.

use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;
use sellion_planning::retests::{Affected, GateAccepts, GateNeeded, PersonRetests, retests};
use uuid::Uuid;

use crate::support::id;

fn morning() -> DateTime<Utc> {
    DateTime::from_timestamp(1_795_000_000, 0).expect("a moment")
}

fn gate(number: u32, respirators: &[u32]) -> GateAccepts {
    GateAccepts { gate: id(number), none_needed: false, respirators: ids(respirators) }
}

fn ids(numbers: &[u32]) -> Vec<Uuid> {
    numbers.iter().copied().map(id).collect()
}

fn person(number: u32, gates: &[(u32, Option<i64>)], undoubted: &[u32], retestable: &[u32]) -> Affected {
    let needed = |(gate, hours): &(u32, Option<i64>)| GateNeeded {
        gate: id(*gate),
        next_at: hours.map(|hours| morning() + TimeDelta::hours(hours)),
    };
    Affected {
        person: id(number),
        gates: gates.iter().map(needed).collect(),
        undoubted: ids(undoubted),
        retestable: ids(retestable),
    }
}

fn one(person: Affected, gates: &[GateAccepts]) -> PersonRetests {
    retests(&[person], gates).pop().expect("one person")
}

fn chosen(retests: &PersonRetests) -> Vec<Uuid> {
    retests.retests.iter().map(|retest| retest.respirator).collect()
}

#[test]
fn one_retest_for_two_gates_is_less_than_two() {
    let gates = [gate(101, &[1, 3]), gate(102, &[2, 3])];
    // The preferred ones open one gate each; the last one opens both.
    let found = one(person(9, &[(101, None), (102, None)], &[], &[1, 2, 3]), &gates);
    assert_eq!((chosen(&found), found.shortest), (ids(&[3]), true));
    assert_eq!(found.retests[0].gates, ids(&[101, 102]));
}

#[test]
fn the_preferred_respirator_breaks_the_tie() {
    let gates = [gate(101, &[1, 2, 3]), gate(102, &[4, 5])];
    let found = one(person(9, &[(101, None), (102, None)], &[], &[5, 3, 4, 1]), &gates);
    assert_eq!(chosen(&found), ids(&[5, 3]));
}

#[test]
fn a_gate_that_stays_open_needs_no_retest() {
    let mut free = gate(103, &[]);
    free.none_needed = true;
    let gates = [gate(101, &[1, 2]), gate(102, &[1]), free];
    let needed = [(101, Some(1)), (102, Some(5)), (103, None)];
    let found = one(person(9, &needed, &[2], &[1]), &gates);
    assert_eq!((chosen(&found), found.open_gates), (ids(&[1]), ids(&[101, 103])));
    // The open gate is needed first, but what waits for a retest is the other one.
    assert_eq!(found.needed_at, Some(morning() + TimeDelta::hours(5)));
}

#[test]
fn what_no_retest_opens_is_said() {
    let gates = [gate(101, &[1]), gate(102, &[7])];
    let found = one(person(9, &[(101, None), (102, Some(2)), (199, None)], &[], &[1]), &gates);
    assert_eq!((chosen(&found), found.uncoverable), (ids(&[1]), ids(&[102, 199])));
    assert_eq!(found.needed_at, Some(morning() + TimeDelta::hours(2)));
    let nobody = one(person(9, &[(101, None)], &[], &[]), &gates);
    assert_eq!((nobody.retests, nobody.uncoverable), (vec![], ids(&[101])));
    assert_eq!(retests(&[], &gates), []);
}

#[test]
fn whoever_needs_a_closed_gate_soonest_comes_first() {
    let gates = [gate(101, &[1]), gate(102, &[2])];
    let people = [
        person(1, &[(101, None)], &[], &[1]),
        person(2, &[(102, Some(1))], &[2], &[1]),
        person(3, &[(101, Some(9)), (101, Some(3))], &[], &[1]),
        person(4, &[(102, Some(2))], &[], &[1]),
        person(5, &[], &[], &[1]),
    ];
    let order: Vec<_> = retests(&people, &gates).iter().map(|retests| retests.person).collect();
    assert_eq!(order, ids(&[4, 3, 1, 2, 5]));
}

#[test]
fn too_many_choices_are_said_not_to_be_the_shortest() {
    // Each respirator opens a gate of its own, so none can be left aside.
    let numbers: Vec<u32> = (1..=20).collect();
    let gates: Vec<_> = numbers.iter().map(|number| gate(100 + number, &[*number])).collect();
    let needed: Vec<_> = numbers.iter().map(|number| (100 + number, None)).collect();
    let found = one(person(9, &needed, &[], &numbers), &gates);
    assert_eq!((found.retests.len(), found.shortest, found.uncoverable), (20, false, vec![]));
    let many: Vec<_> = (0..150).map(|number| (1000 + number, Some(i64::from(number)))).collect();
    let found = one(person(9, &many, &[], &[1]), &[]);
    assert_eq!((found.left_out, found.uncoverable.len(), found.shortest), (22, 128, false));
}

/// All sets of the respirators, tried one by one: the smallest that opens most, and of these the preferred.
fn by_trying_everything(person: &Affected, gates: &[GateAccepts]) -> Vec<Uuid> {
    let open = |gate: &GateAccepts, set: &[Uuid]| {
        gate.none_needed || set.iter().any(|respirator| gate.respirators.contains(respirator))
    };
    let needed: Vec<_> = gates
        .iter()
        .filter(|gate| person.gates.iter().any(|need| need.gate == gate.gate))
        .filter(|gate| !open(gate, &person.undoubted))
        .collect();
    let count = |set: &[Uuid]| needed.iter().filter(|gate| open(gate, set)).count();
    let most = count(&person.retestable);
    let sets = (0..1_u32 << person.retestable.len()).map(|bits| {
        let places = (0..person.retestable.len()).filter(|place| bits >> place & 1 == 1);
        places.collect::<Vec<_>>()
    });
    let named = |places: &[usize]| places.iter().map(|place| person.retestable[*place]).collect::<Vec<_>>();
    let enough = sets.filter(|places| count(&named(places)) == most);
    named(&enough.min_by_key(|places| (places.len(), places.clone())).expect("all of them are enough"))
}

fn subset(of: std::ops::Range<u32>, most: usize) -> impl Strategy<Value = Vec<u32>> {
    proptest::sample::subsequence(of.collect::<Vec<_>>(), 0..=most)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn it_is_what_trying_everything_finds(
        accepted in proptest::collection::vec((subset(1..9, 8), prop::bool::weighted(0.1)), 0..7),
        needed in subset(100..108, 8),
        undoubted in subset(1..9, 2),
        retestable in subset(1..9, 8).prop_shuffle(),
    ) {
        let gates: Vec<_> = (100..)
            .zip(&accepted)
            .map(|(number, (respirators, none_needed))| GateAccepts {
                none_needed: *none_needed,
                ..gate(number, respirators)
            })
            .collect();
        let needed: Vec<_> = needed.into_iter().map(|gate| (gate, None)).collect();
        let person = person(9, &needed, &undoubted, &retestable);
        let found = one(person.clone(), &gates);
        prop_assert!(found.shortest);
        prop_assert_eq!(chosen(&found), by_trying_everything(&person, &gates));
        // Every needed gate is told in exactly one way.
        let opened: Vec<_> = found.retests.iter().flat_map(|retest| retest.gates.clone()).collect();
        for (gate, _) in &needed {
            let told = [
                found.open_gates.contains(&id(*gate)),
                found.uncoverable.contains(&id(*gate)),
                opened.contains(&id(*gate)),
            ];
            prop_assert_eq!(told.iter().filter(|told| **told).count(), 1);
        }
    }
}
