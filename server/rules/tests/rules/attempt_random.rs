//! Random runs: plausible ones with human timing, and what can be done to them.

use chrono::TimeDelta;
use proptest::prelude::*;
use sellion_rules::attempt::{AttemptEventKind as Kind, AttemptSetup, SealCheckResult};
use sellion_rules::level::Level;
use sellion_rules::supplies::Agent;

use crate::checker::Case;
use crate::support::{setup, zero};

/// An event without its number, in milliseconds after the screening ended.
pub(crate) type Told = (i64, Kind);

/// A setup with what the judge is told about it.
pub(crate) fn any_setup(clean: bool) -> impl Strategy<Value = AttemptSetup> {
    let intake = if clean {
        Just(None).boxed()
    } else {
        prop_oneof![3 => Just(None), 2 => (-1200_i64..200).prop_map(Some)].boxed()
    };
    (any::<bool>(), 0..3_usize, any::<bool>(), intake).prop_map(|(sweet, level, jogging, intake)| {
        let agent = if sweet { Agent::Saccharin } else { Agent::DenatoniumBenzoate };
        let mut setup = setup(agent, Level::ALL[level]);
        setup.jogging_instead_of_bending = jogging;
        setup.last_intake_at = intake.map(|seconds| zero() + TimeDelta::seconds(seconds));
        setup
    })
}

pub(crate) fn case(setup: &AttemptSetup) -> Case {
    Case {
        first_dose: match setup.level.expect("a level") {
            Level::Ten => 10,
            Level::Twenty => 20,
            Level::Thirty => 30,
        },
        screened_at: setup.screened_at.expect("a screening"),
        last_intake_at: setup.last_intake_at,
    }
}

/// How a run is timed: wear, pauses before each exercise, overrun of each, and each dose against its due moment.
#[derive(Debug, Clone)]
pub(crate) struct Timing {
    wear_ms: i64,
    pauses_ms: Vec<i64>,
    overruns_ms: Vec<i64>,
    jitters_ms: Vec<i64>,
}

/// Timing that a careful tester keeps.
pub(crate) fn careful() -> impl Strategy<Value = Timing> {
    timing(300_000..600_000, 0..9_000, 0..4_000, -5_000..=10_000)
}

/// Timing around the limits, on both sides of them.
pub(crate) fn careless() -> impl Strategy<Value = Timing> {
    timing(290_000..320_000, 0..9_000, -200..4_000, -5_300..=10_300)
}

fn timing(
    wear: std::ops::Range<i64>,
    pause: std::ops::Range<i64>,
    overrun: std::ops::Range<i64>,
    jitter: std::ops::RangeInclusive<i64>,
) -> impl Strategy<Value = Timing> {
    let pauses = proptest::collection::vec(pause, 7);
    let overruns = proptest::collection::vec(overrun, 7);
    let jitters = proptest::collection::vec(jitter, 24);
    (wear, pauses, overruns, jitters).prop_map(|(wear_ms, pauses_ms, overruns_ms, jitters_ms)| Timing {
        wear_ms,
        pauses_ms,
        overruns_ms,
        jitters_ms,
    })
}

/// A whole run from donning to signing.
pub(crate) fn told(level: Level, timing: &Timing) -> Vec<Told> {
    let first = 5_000 + timing.wear_ms;
    let mut run = vec![
        (5_000, Kind::Donned { by_wearer: true, fresh: false }),
        (20_000, Kind::SealChecked { result: SealCheckResult::Ok }),
        (200_000, Kind::Hooded { taste_gone: true }),
        (first, Kind::DoseGiven { squeezes: level.squeezes() }),
    ];
    let mut clock = first;
    for ((number, pause), overrun) in (1..=7).zip(&timing.pauses_ms).zip(&timing.overruns_ms) {
        run.push((clock + pause, Kind::ExerciseStarted { number }));
        clock += pause + 60_000 + overrun;
        run.push((clock, Kind::ExerciseEnded { number }));
    }
    let mut last = clock;
    for (number, jitter) in (1..).zip(&timing.jitters_ms) {
        let due = first + 30_000 * number;
        if due >= clock {
            break;
        }
        run.push((due + jitter, Kind::DoseGiven { squeezes: level.squeezes() / 2 }));
        last = last.max(due + jitter);
    }
    // Stable, so that what was told first stays first in the same instant.
    run.sort_by_key(|told| told.0);
    run.push((last + 4_000, Kind::AskedAgain { tasted: false, comfortable: true }));
    run.push((last + 6_000, Kind::NebulizerChecked { clear: true }));
    run.push((last + 9_000, Kind::Signed));
    run
}

pub(crate) fn any_kind() -> impl Strategy<Value = Kind> {
    let seal = prop_oneof![
        Just(SealCheckResult::Ok),
        Just(SealCheckResult::Failed),
        Just(SealCheckResult::NotPossible)
    ];
    prop_oneof![
        any::<bool>().prop_map(|by_wearer| Kind::Donned { by_wearer, fresh: false }),
        Just(Kind::Doffed),
        seal.prop_map(|result| Kind::SealChecked { result }),
        any::<bool>().prop_map(|taste_gone| Kind::Hooded { taste_gone }),
        prop_oneof![Just(5_u8), Just(10), Just(15), Just(20), Just(30), any::<u8>()]
            .prop_map(|squeezes| Kind::DoseGiven { squeezes }),
        (0..9_u8).prop_map(|number| Kind::ExerciseStarted { number }),
        (0..9_u8).prop_map(|number| Kind::ExerciseEnded { number }),
        Just(Kind::Tasted),
        Just(Kind::Unsure),
        Just(Kind::Adjusted),
        Just(Kind::Interrupted),
        Just(Kind::HoodOff),
        Just(Kind::Unwell),
        (any::<bool>(), any::<bool>())
            .prop_map(|(tasted, comfortable)| Kind::AskedAgain { tasted, comfortable }),
        any::<bool>().prop_map(|clear| Kind::NebulizerChecked { clear }),
        Just(Kind::Signed),
    ]
}

/// One thing that goes wrong with a run.
#[derive(Debug, Clone)]
pub(crate) enum Slip {
    Drop(usize),
    Twice(usize),
    Swap(usize),
    Shift(usize, i64),
    Replace(usize, Kind),
    Insert(usize, Kind),
}

pub(crate) fn any_slip() -> impl Strategy<Value = Slip> {
    let place = 0..64_usize;
    prop_oneof![
        place.clone().prop_map(Slip::Drop),
        place.clone().prop_map(Slip::Twice),
        place.clone().prop_map(Slip::Swap),
        (place.clone(), -40_000_i64..40_000).prop_map(|(at, by)| Slip::Shift(at, by)),
        (place.clone(), any_kind()).prop_map(|(at, kind)| Slip::Replace(at, kind)),
        (place, any_kind()).prop_map(|(at, kind)| Slip::Insert(at, kind)),
    ]
}

pub(crate) fn slip(run: &mut Vec<Told>, slip: &Slip) {
    if run.is_empty() {
        return;
    }
    let within = |place: usize| place % run.len();
    match *slip {
        Slip::Drop(place) => drop(run.remove(within(place))),
        Slip::Twice(place) => run.insert(within(place), run[within(place)]),
        Slip::Swap(place) => {
            let (one, other) = (within(place), within(place + 1));
            run.swap(one, other);
        }
        Slip::Shift(place, by) => {
            let place = within(place);
            run[place].0 += by;
        }
        Slip::Replace(place, kind) => {
            let place = within(place);
            run[place].1 = kind;
        }
        Slip::Insert(place, kind) => {
            let place = within(place);
            run.insert(place, (run[place].0, kind));
        }
    }
}
