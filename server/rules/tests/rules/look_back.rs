//! Look-back: surely, possibly, not. How they are told apart is common practice, no source.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::look_back::{
    Bottle, Certainty, FillRecord, Fillings, Gap, MixUp, Placed, RUN_LASTS_AT_MOST_SECONDS, Reason, Rinse,
    Run, Source, Span, Spray, Subject, Whereabouts, Worn, judge, judge_attempt,
};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::{id, zero};

const LOT: u128 = 10;
const OTHER_LOT: u128 = 11;
const BOTTLE: u128 = 20;
const STATION: u128 = 30;
const HOOD: u128 = 40;

fn minute(minutes: i64) -> DateTime<Utc> {
    zero() + TimeDelta::minutes(minutes)
}

/// A filling of nebulizer A at this minute, from a bottle of this lot.
fn fill(number: u128, lot: u128, at: i64) -> FillRecord {
    FillRecord {
        id: id(number),
        station: id(STATION),
        nebulizer: "A".to_owned(),
        sources: vec![Source { lot: id(lot), bottle: id(lot + 10) }],
        rinsed: false,
        topped_up: None,
        happened_at: minute(at),
        recorded_at: minute(at),
        rinsed_out_at: None,
    }
}

/// A run of ten minutes with test solution of saccharin.
fn run(fillings: &Fillings, fill: u128, at: i64) -> Run<'_> {
    Run {
        tester: id(60),
        station: id(STATION),
        began_at: minute(at),
        ended_at: Some(minute(at + 10)),
        hood: None,
        spray: Some(Spray {
            agent: Agent::Saccharin,
            solution: Solution::Test,
            contents: fillings.contents(id(fill), minute(at + 10)),
            gaps: Vec::new(),
        }),
        worn: None,
    }
}

fn lot() -> Vec<Subject> {
    vec![Subject::Lot { id: id(LOT), bottles: vec![bottle(Whereabouts::default())] }]
}

fn bottle(whereabouts: Whereabouts) -> Bottle {
    Bottle { id: id(BOTTLE), agent: Agent::Saccharin, solution: Solution::Test, whereabouts }
}

#[track_caller]
fn is(subjects: &[Subject], run: &Run<'_>, certainty: Certainty, reasons: &[Reason]) {
    let verdict = judge(subjects, run);
    assert_eq!((verdict.certainty, verdict.reasons.as_slice()), (certainty, reasons));
}

#[test]
fn a_run_is_surely_on_its_own_filling_and_on_what_it_was_topped_up_on() {
    let second = FillRecord { topped_up: Some(id(1)), ..fill(2, OTHER_LOT, 30) };
    let third = FillRecord { topped_up: Some(id(2)), ..fill(3, OTHER_LOT, 60) };
    let fillings = Fillings::new(vec![third, fill(1, LOT, 0), second], &[], &[]);
    is(&lot(), &run(&fillings, 1, 5), Certainty::Surely, &[Reason::OwnFill]);
    is(&lot(), &run(&fillings, 2, 35), Certainty::Surely, &[Reason::ToppedUp]);
    is(&lot(), &run(&fillings, 3, 65), Certainty::Surely, &[Reason::ToppedUp]);
    let first = vec![Subject::Fill {
        id: id(1),
        station: id(STATION),
        agent: Agent::Saccharin,
        solution: Solution::Test,
        span: Span::default(),
    }];
    is(&first, &run(&fillings, 3, 65), Certainty::Surely, &[Reason::ToppedUp]);
    is(
        &first,
        &run(&Fillings::new(vec![fill(9, LOT, 0)], &[], &[]), 9, 5),
        Certainty::NotAffected,
        &[Reason::OtherFill],
    );
}

#[test]
fn what_a_nebulizer_held_before_is_possible_until_it_is_rinsed() {
    let unrinsed = || vec![fill(1, LOT, 0), fill(2, OTHER_LOT, 30), fill(3, OTHER_LOT, 60)];
    let fillings = Fillings::new(unrinsed(), &[], &[]);
    for (number, at) in [(2, 35), (3, 65)] {
        is(&lot(), &run(&fillings, number, at), Certainty::Possibly, &[Reason::Residue]);
    }
    let not = |fillings: Fillings| {
        is(&lot(), &run(&fillings, 3, 65), Certainty::NotAffected, &[Reason::OtherLot]);
    };
    let mut rinsed_before = unrinsed();
    rinsed_before[1].rinsed = true;
    not(Fillings::new(rinsed_before, &[], &[]));
    let mut rinsed_out = unrinsed();
    rinsed_out[0].rinsed_out_at = Some(minute(29));
    not(Fillings::new(rinsed_out, &[], &[]));
    not(Fillings::new(unrinsed(), &[Rinse { nebulizer: "A".to_owned(), at: minute(45) }], &[]));
    let another = [Rinse { nebulizer: "B".to_owned(), at: minute(45) }];
    let fillings = Fillings::new(unrinsed(), &another, &[]);
    is(&lot(), &run(&fillings, 3, 65), Certainty::Possibly, &[Reason::Residue]);
    // A label names the same nebulizer for ever: a night rinses nothing.
    let days = |after: i64| vec![fill(1, LOT, 0), fill(2, OTHER_LOT, after)];
    let fillings = Fillings::new(days(3 * 24 * 60), &[], &[]);
    is(&lot(), &run(&fillings, 2, 3 * 24 * 60 + 5), Certainty::Possibly, &[Reason::Residue]);
}

fn mix_up(into: &str, from: &str, at: i64) -> MixUp {
    MixUp { into: into.to_owned(), from: from.to_owned(), at: minute(at) }
}

/// Two nebulizers: A holds the other lot, B the lot that is asked about.
fn two_nebulizers() -> Vec<FillRecord> {
    vec![fill(1, OTHER_LOT, 0), FillRecord { nebulizer: "B".to_owned(), ..fill(2, LOT, 0) }]
}

/// The two liquids never meet in one nebulizer (29 CFR 1910.134 App. A I.B.3(b)(4); fact 3.42); where they did, what
/// was sprayed after it stands on both.
#[test]
fn what_was_poured_in_by_mistake_is_sure_from_then_on() {
    let fillings = Fillings::new(two_nebulizers(), &[], &[mix_up("A", "B", 30)]);
    is(&lot(), &run(&fillings, 1, 10), Certainty::NotAffected, &[Reason::OtherLot]);
    for at in [25, 30, 45] {
        is(&lot(), &run(&fillings, 1, at), Certainty::Surely, &[Reason::MixedUp]);
    }
    // The nebulizer it came from is out as well: something of the other may have come back.
    let back = Fillings::new(two_nebulizers(), &[], &[mix_up("B", "A", 30)]);
    is(&lot(), &run(&back, 1, 45), Certainty::Possibly, &[Reason::MayBeMixedUp]);
}

#[test]
fn what_was_poured_in_stays_until_it_is_rinsed() {
    let days = 24 * 60;
    let with = |later: FillRecord, rinses: &[Rinse], mixed: MixUp| {
        let mut records = two_nebulizers();
        records.push(later);
        Fillings::new(records, rinses, &[mixed])
    };
    let rinse = |at| [Rinse { nebulizer: "A".to_owned(), at: minute(at) }];
    let later = || fill(3, OTHER_LOT, 2 * days);
    let possibly = |fillings: &Fillings| {
        is(&lot(), &run(fillings, 3, 2 * days + 5), Certainty::Possibly, &[Reason::Residue]);
    };
    possibly(&with(later(), &[], mix_up("A", "B", 30)));
    // Rinsed before it was mixed up, and not after.
    possibly(&with(later(), &rinse(20), mix_up("A", "B", 30)));
    let not = |fillings: &Fillings| {
        is(&lot(), &run(fillings, 3, 2 * days + 5), Certainty::NotAffected, &[Reason::OtherLot]);
    };
    not(&with(later(), &rinse(40), mix_up("A", "B", 30)));
    not(&with(FillRecord { rinsed: true, ..later() }, &[], mix_up("A", "B", 30)));
    // What was rinsed out of B by then cannot have been poured.
    let rinsed_out = [Rinse { nebulizer: "B".to_owned(), at: minute(20) }];
    not(&with(later(), &rinsed_out, mix_up("A", "B", 30)));
    // Mixed to and fro, it ends.
    let there_and_back = [mix_up("A", "B", 30), mix_up("B", "A", 31), mix_up("A", "B", 32)];
    let fillings = Fillings::new(two_nebulizers(), &[], &there_and_back);
    is(&lot(), &run(&fillings, 1, 45), Certainty::Surely, &[Reason::MixedUp]);
}

#[test]
fn a_facepiece_is_surely_of_the_lot_that_is_named_and_possibly_where_none_is() {
    let fillings = Fillings::default();
    let of = |lot: u128, since: i64| {
        vec![Subject::Facepieces { lot: id(lot), respirator: id(70), since: minute(since) }]
    };
    let worn = |respirator: u128, lot: Option<u128>| {
        let worn = Some(Worn { respirator: id(respirator), lot: lot.map(id) });
        Run { worn, ..run(&fillings, 1, 100) }
    };
    is(&of(LOT, 0), &worn(70, Some(LOT)), Certainty::Surely, &[Reason::Facepiece]);
    is(&of(LOT, 0), &worn(70, Some(OTHER_LOT)), Certainty::NotAffected, &[Reason::OtherFacepiece]);
    is(&of(LOT, 0), &worn(70, None), Certainty::Possibly, &[Reason::FacepieceUnknown]);
    is(&of(LOT, 0), &worn(71, None), Certainty::NotAffected, &[Reason::OtherFacepiece]);
    is(&of(LOT, 111), &worn(70, None), Certainty::NotAffected, &[Reason::OtherFacepiece]);
    is(&of(LOT, 0), &run(&fillings, 1, 100), Certainty::NotAffected, &[Reason::OtherFacepiece]);
    let measured = Run { spray: None, ..worn(70, None) };
    is(&of(LOT, 0), &measured, Certainty::Possibly, &[Reason::FacepieceUnknown]);
}

#[test]
fn the_order_of_fillings_is_that_of_the_facts_and_not_of_their_records() {
    let late = FillRecord { recorded_at: minute(300), ..fill(2, LOT, 20) };
    let fillings = Fillings::new(vec![fill(1, OTHER_LOT, 0), fill(3, OTHER_LOT, 40), late], &[], &[]);
    is(&lot(), &run(&fillings, 3, 45), Certainty::Possibly, &[Reason::Residue]);
    is(&lot(), &run(&fillings, 1, 5), Certainty::NotAffected, &[Reason::OtherLot]);
}

#[test]
fn fillings_on_top_of_each_other_in_a_circle_end() {
    let one = FillRecord { topped_up: Some(id(2)), ..fill(1, LOT, 0) };
    let two = FillRecord { topped_up: Some(id(1)), ..fill(2, OTHER_LOT, 1) };
    let fillings = Fillings::new(vec![one, two], &[], &[]);
    is(&lot(), &run(&fillings, 2, 5), Certainty::Surely, &[Reason::ToppedUp]);
    assert!(Fillings::default().contents(id(7), minute(0)).is_empty());
}

#[test]
fn what_was_made_from_it_is_affected_as_well() {
    let mut made = fill(1, OTHER_LOT, 0);
    made.sources.push(Source { lot: id(LOT), bottle: id(BOTTLE) });
    let fillings = Fillings::new(vec![made], &[], &[]);
    is(&lot(), &run(&fillings, 1, 5), Certainty::Surely, &[Reason::MadeFrom]);
}

fn gap(from: i64, until: i64) -> Gap {
    Gap { agent: None, solution: None, from: minute(from), until: minute(until) }
}

fn in_gap(fillings: &Fillings, at: i64, gap: Gap) -> Run<'_> {
    let mut run = run(fillings, 1, at);
    if let Some(spray) = &mut run.spray {
        spray.gaps = vec![gap];
    }
    run
}

#[test]
fn in_a_gap_it_is_possible_where_a_bottle_may_have_been() {
    let fillings = Fillings::new(vec![fill(1, OTHER_LOT, 0)], &[], &[]);
    let since = minute(-600);
    let stood = |placed: &[(i64, u128)]| {
        let placed = placed.iter().map(|(at, place)| Placed { at: minute(*at), place: id(*place) }).collect();
        let whereabouts = Whereabouts { since, placed, used_at: BTreeSet::new() };
        vec![Subject::Lot { id: id(LOT), bottles: vec![bottle(whereabouts)] }]
    };
    let run = in_gap(&fillings, 20, gap(25, 60));
    let unknown = |subjects: &[Subject]| is(subjects, &run, Certainty::Possibly, &[Reason::FillUnknown]);
    let not = |subjects: &[Subject]| is(subjects, &run, Certainty::NotAffected, &[Reason::OtherLot]);
    unknown(&stood(&[]));
    unknown(&stood(&[(0, STATION)]));
    unknown(&stood(&[(0, 1), (59, STATION)]));
    unknown(&stood(&[(60, 1)]));
    not(&stood(&[(0, 1)]));
    not(&stood(&[(0, STATION), (25, 1)]));
    not(&stood(&[(0, 1), (60, STATION)]));
    let used_at: BTreeSet<_> = [id(STATION)].into();
    let used = Whereabouts { since, placed: vec![Placed { at: minute(0), place: id(1) }], used_at };
    unknown(&[Subject::Bottle { id: id(BOTTLE), bottles: vec![bottle(used)] }]);
    let not_yet = Whereabouts { since: minute(60), ..Whereabouts::default() };
    not(&[Subject::Lot { id: id(LOT), bottles: vec![bottle(not_yet)] }]);
}

#[test]
fn a_gap_counts_for_its_time_and_its_liquid() {
    let fillings = Fillings::new(vec![fill(1, OTHER_LOT, 0)], &[], &[]);
    let unknown = |gap| judge(&lot(), &in_gap(&fillings, 20, gap)).certainty == Certainty::Possibly;
    assert!(unknown(gap(30, 31)), "its last moment");
    assert!(unknown(gap(0, 21)));
    assert!(!unknown(gap(0, 20)) && !unknown(gap(31, 40)));
    assert!(unknown(Gap { agent: Some(Agent::Saccharin), solution: Some(Solution::Test), ..gap(0, 60) }));
    assert!(!unknown(Gap { agent: Some(Agent::DenatoniumBenzoate), ..gap(0, 60) }));
    assert!(!unknown(Gap { solution: Some(Solution::Screening), ..gap(0, 60) }));
    // A run that was left open may have gone on, but not for longer than a day.
    let open = |gap| Run { ended_at: None, ..in_gap(&fillings, 20, gap) };
    let day = i64::from(RUN_LASTS_AT_MOST_SECONDS) / 60;
    assert_eq!(judge(&lot(), &open(gap(20 + day, 21 + day))).certainty, Certainty::Possibly);
    assert_eq!(judge(&lot(), &open(gap(21 + day, 22 + day))).certainty, Certainty::NotAffected);
}

#[test]
fn a_measured_attempt_is_never_affected_by_a_liquid() {
    let fillings = Fillings::default();
    let measured = Run { spray: None, ..run(&fillings, 1, 0) };
    is(&lot(), &measured, Certainty::NotAffected, &[Reason::NothingSprayed]);
    let nebulizer = Subject::Nebulizer {
        label: "A".to_owned(),
        span: Span::default(),
        whereabouts: Whereabouts::default(),
    };
    is(&[nebulizer], &measured, Certainty::NotAffected, &[Reason::NothingSprayed]);
    let tester = Subject::Tester { id: id(60), span: Span::default() };
    is(&[tester], &measured, Certainty::Surely, &[Reason::Tester]);
}

#[test]
fn an_attempt_stands_on_its_screening() {
    let fillings =
        Fillings::new(vec![fill(1, LOT, 0), FillRecord { rinsed: true, ..fill(2, OTHER_LOT, 20) }], &[], &[]);
    let (screening, attempt) = (run(&fillings, 1, 5), run(&fillings, 2, 25));
    let verdict = judge_attempt(&lot(), &attempt, Some(&screening));
    assert_eq!((verdict.certainty, verdict.reasons), (Certainty::Surely, vec![Reason::ScreeningFill]));
    let alone = judge_attempt(&lot(), &attempt, None);
    assert_eq!((alone.certainty, alone.reasons), (Certainty::NotAffected, vec![Reason::OtherLot]));
}

#[test]
fn testers_stations_and_nebulizers_are_in_doubt_for_their_time() {
    let fillings = Fillings::new(vec![fill(1, LOT, 0)], &[], &[]);
    let run = run(&fillings, 1, 20);
    let span = |from, until| Span { from: Some(minute(from)), until: Some(minute(until)) };
    for (span, certainty) in [(span(30, 31), Certainty::Surely), (span(31, 60), Certainty::NotAffected)] {
        let not = (certainty == Certainty::NotAffected).then_some(Reason::OtherTime);
        let label = "A".to_owned();
        let subjects = [
            (Subject::Tester { id: id(60), span }, Reason::Tester),
            (Subject::Station { id: id(STATION), span }, Reason::Station),
            (Subject::Nebulizer { label, span, whereabouts: Whereabouts::default() }, Reason::Nebulizer),
        ];
        for (subject, reason) in subjects {
            is(&[subject], &run, certainty, &[not.unwrap_or(reason)]);
        }
    }
    let other = [Subject::Tester { id: id(61), span: Span::default() }];
    is(&other, &run, Certainty::NotAffected, &[Reason::OtherTester]);
    let other = [Subject::Station { id: id(31), span: Span::default() }];
    is(&other, &run, Certainty::NotAffected, &[Reason::OtherStation]);
}

#[test]
fn a_run_that_names_no_hood_may_have_been_under_one_that_was_there() {
    let fillings = Fillings::new(vec![fill(1, LOT, 0)], &[], &[]);
    let hood = |placed: &[(i64, u128)], used_at: &[u128]| {
        let placed = placed.iter().map(|(at, place)| Placed { at: minute(*at), place: id(*place) }).collect();
        let used_at = used_at.iter().map(|station| id(*station)).collect();
        let whereabouts = Whereabouts { since: minute(-600), placed, used_at };
        [Subject::Hood { id: id(HOOD), span: Span::default(), whereabouts }]
    };
    let run = run(&fillings, 1, 20);
    let named = |hood| Run { hood: Some(id(hood)), ..run.clone() };
    is(&hood(&[], &[]), &named(HOOD), Certainty::Surely, &[Reason::Hood]);
    is(&hood(&[(0, STATION)], &[]), &named(41), Certainty::NotAffected, &[Reason::OtherEquipment]);
    is(&hood(&[(0, STATION)], &[]), &run, Certainty::Possibly, &[Reason::HoodUnknown]);
    is(&hood(&[], &[STATION]), &run, Certainty::Possibly, &[Reason::HoodUnknown]);
    is(&hood(&[], &[]), &run, Certainty::NotAffected, &[Reason::OtherEquipment]);
    is(&hood(&[(0, STATION), (20, 1)], &[]), &run, Certainty::NotAffected, &[Reason::OtherEquipment]);
    let measured = Run { spray: None, ..run.clone() };
    is(&hood(&[], &[STATION]), &measured, Certainty::NotAffected, &[Reason::OtherEquipment]);
}

#[test]
fn every_reason_has_its_list() {
    let of = |certainty| Reason::ALL.iter().filter(|reason| reason.certainty() == certainty).count();
    assert_eq!([of(Certainty::Surely), of(Certainty::Possibly), of(Certainty::NotAffected)], [10, 5, 9]);
}
