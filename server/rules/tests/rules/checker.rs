//! An independent judge of passes: it walks the raw list of events with the numbers of the published text written out
//! here, and calls nothing of the machine under test.

use chrono::{DateTime, Utc};
use sellion_rules::attempt::{AttemptEvent, AttemptEventKind as Kind, SealCheckResult};

/// What the judge is told besides the events.
pub(crate) struct Case {
    pub(crate) first_dose: u8,
    pub(crate) screened_at: DateTime<Utc>,
    pub(crate) last_intake_at: Option<DateTime<Utc>>,
}

/// Every published or agreed condition that a run called a pass breaks; empty for an honest pass.
pub(crate) fn broken(case: &Case, events: &[AttemptEvent]) -> Vec<&'static str> {
    let mut broken = Vec::new();
    if events.windows(2).any(|pair| pair[1].happened_at < pair[0].happened_at) {
        broken.push("times go back");
    }
    if events.iter().zip(1..).any(|(event, seq)| event.seq != seq) {
        broken.push("numbers have a gap");
    }
    let Some(first) = events.iter().position(|event| matches!(event.kind, Kind::DoseGiven { .. })) else {
        return vec!["no dose at all"];
    };
    let Some(last) = events.iter().position(|event| event.kind == Kind::Signed) else {
        return vec!["no signature"];
    };
    if last < first {
        return vec!["signed before the first dose"];
    }
    before_first_dose(case, &events[..first], events[first].happened_at, &mut broken);
    let Some(end) = exercises(&events[first..=last], &mut broken) else {
        broken.push("the exercises are not complete");
        return broken;
    };
    doses(case, &events[first..=last], end, &mut broken);
    under_the_hood(&events[first..=last], end, &mut broken);
    broken
}

fn seconds(from: DateTime<Utc>, to: DateTime<Utc>) -> f64 {
    (to - from).num_milliseconds() as f64 / 1000.0
}

fn before_first_dose(
    case: &Case,
    fitting: &[AttemptEvent],
    first_dose_at: DateTime<Utc>,
    broken: &mut Vec<&'static str>,
) {
    // 1910.134 App. A I.A.12: worn at least 5 minutes, without a break.
    let donned = fitting.iter().rposition(|event| matches!(event.kind, Kind::Donned { .. } | Kind::Doffed));
    match donned.map(|index| (index, &fitting[index])) {
        Some((index, event)) if event.kind == (Kind::Donned { by_wearer: true, fresh: false }) => {
            if seconds(event.happened_at, first_dose_at) < 300.0 {
                broken.push("worn less than 5 minutes");
            }
            if event.happened_at < case.screened_at {
                broken.push("donned before the screening ended");
            }
            // App. A I.A.8: the last thing said about the seal of this seat is that it is good.
            let seal = fitting[index..].iter().rev().find_map(|event| match event.kind {
                Kind::SealChecked { result } => Some(result == SealCheckResult::Ok),
                Kind::Adjusted => Some(false),
                _ => None,
            });
            if seal != Some(true) {
                broken.push("no good seal check");
            }
            let hood = fitting[index..].iter().rev().find_map(|event| match event.kind {
                Kind::Hooded { taste_gone } => Some(taste_gone),
                Kind::HoodOff => Some(false),
                _ => None,
            });
            if hood != Some(true) {
                broken.push("not ready under the hood");
            }
        }
        _ => broken.push("not donned by the wearer"),
    }
    let leaks =
        fitting.iter().filter(|event| event.kind == Kind::SealChecked { result: SealCheckResult::Failed });
    if leaks.count() >= 3 {
        broken.push("three failed seal checks");
    }
    if fitting.iter().any(|event| matches!(event.kind, Kind::Unwell | Kind::Interrupted)) {
        broken.push("ended while fitting");
    }
    // App. A I.B.3(b)(1): 15 minutes.
    if case.last_intake_at.is_some_and(|intake| seconds(intake, first_dose_at) < 900.0) {
        broken.push("ate or drank too recently");
    }
}

/// The end of the last exercise, when all seven ran in order for a minute each (App. A I.A.14(a), (b)).
fn exercises(run: &[AttemptEvent], broken: &mut Vec<&'static str>) -> Option<DateTime<Utc>> {
    let marks: Vec<_> = run
        .iter()
        .filter_map(|event| match event.kind {
            Kind::ExerciseStarted { number } => Some((number, true, event.happened_at)),
            Kind::ExerciseEnded { number } => Some((number, false, event.happened_at)),
            _ => None,
        })
        .collect();
    if marks.len() != 14 {
        return None;
    }
    for (pair, number) in marks.chunks(2).zip(1_u8..) {
        if (pair[0].0, pair[0].1, pair[1].0, pair[1].1) != (number, true, number, false) {
            return None;
        }
        if seconds(pair[0].2, pair[1].2) < 60.0 {
            broken.push("an exercise is shorter than a minute");
        }
    }
    marks.last().map(|mark| mark.2)
}

/// App. A I.B.3(b)(7) and (9), with tolerances of 5 s before and 10 s after.
fn doses(case: &Case, run: &[AttemptEvent], end: DateTime<Utc>, broken: &mut Vec<&'static str>) {
    let doses: Vec<_> = run
        .iter()
        .filter_map(|event| match event.kind {
            Kind::DoseGiven { squeezes } => Some((squeezes, event.happened_at)),
            _ => None,
        })
        .collect();
    let (first_squeezes, start) = doses[0];
    if first_squeezes != case.first_dose {
        broken.push("the first dose is not the level");
    }
    for ((squeezes, at), due) in doses[1..].iter().zip((30..).step_by(30)) {
        let late = seconds(start, *at) - f64::from(due);
        if !(-5.0..=10.0).contains(&late) {
            broken.push("a dose outside its tolerance");
        }
        if squeezes * 2 != case.first_dose {
            broken.push("a later dose is not half the first");
        }
    }
    let needed = (1..).take_while(|number| f64::from(number * 30) < seconds(start, end)).count();
    if doses.len() - 1 < needed {
        broken.push("a dose is missing");
    }
}

fn under_the_hood(run: &[AttemptEvent], end: DateTime<Utc>, broken: &mut Vec<&'static str>) {
    let last_end =
        run.iter().rposition(|event| matches!(event.kind, Kind::ExerciseEnded { .. })).unwrap_or(0);
    let asked = run.iter().position(|event| matches!(event.kind, Kind::AskedAgain { .. }));
    match asked {
        Some(asked) if asked > last_end && run[asked].happened_at >= end => {
            let disturbed = run[..asked].iter().any(|event| {
                matches!(event.kind, Kind::Adjusted | Kind::Interrupted | Kind::HoodOff | Kind::Doffed)
            });
            if disturbed {
                broken.push("disturbed before the last question");
            }
        }
        _ => broken.push("not asked after the last exercise"),
    }
    let says_no = |kind: Kind| {
        matches!(
            kind,
            Kind::Tasted
                | Kind::Unsure
                | Kind::Unwell
                | Kind::AskedAgain { tasted: true, .. }
                | Kind::AskedAgain { comfortable: false, .. }
                | Kind::NebulizerChecked { clear: false }
        )
    };
    if run.iter().any(|event| says_no(event.kind)) {
        broken.push("something was said or found against it");
    }
    let looked = run[last_end..].iter().any(|event| event.kind == Kind::NebulizerChecked { clear: true });
    if !looked {
        broken.push("nobody looked at the nebulizer at the end");
    }
}
