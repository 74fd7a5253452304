//! The words of the plan: what the tester does and says. Plain, short, and neutral about the answer that is wanted.

use super::plan::{PlanExercise, PlanStep, StepKind};
use super::setup::AttemptSetup;
use crate::method::{Family, Method};
use crate::supplies::Agent;

/// Cautions to keep in sight during every test.
const CAUTIONS: &[&str] = &[
    "Stop at once if the person is short of breath, dizzy, in pain or distressed, or asks to stop: hood and \
     respirator off, fresh air, call help.",
    "Test only people with a current permission to wear a respirator.",
    "A pass holds only for this make, model, style and size, on the face as it is today.",
];

const TASTE_CAUTION: &str =
    "Ask about earlier reactions to the taste agent, and keep the spray out of the eyes.";

/// 29 CFR 1910.134 App. A I.B.2(a)(4) and (b)(10), and the label of the liquid.
const ODOUR_CAUTIONS: &[&str] = &[
    "Isoamyl acetate burns easily: no flame or spark near it, and air both rooms well.",
    "Put every used towel into a bag that seals, so that the room does not smell of it.",
];

/// 29 CFR 1910.134 App. A I.B.5(a)(3)-(5) and (b)(2), (c)(2).
const SMOKE_CAUTIONS: &[&str] = &[
    "The smoke irritates eyes, lungs and nose: use the least that is noticed, and let the person keep both eyes shut.",
    "Never under a hood or in any enclosure. Air the room well for the person and for yourself.",
    "No test with smoke for anybody with asthma or another airway or eye complaint: ask the clinician first.",
];

const MEASURING_CAUTION: &str = "Use instrument and adapters as their makers say, checked and in calibration. The agent outside stays below its \
     exposure limit.";

/// The cautions of a method.
pub(super) fn cautions(method: Method) -> Vec<String> {
    let own: &[&str] = match method.family() {
        Family::Taste => &[TASTE_CAUTION],
        Family::Odour => ODOUR_CAUTIONS,
        Family::Smoke => SMOKE_CAUTIONS,
        Family::Aerosol | Family::Pressure => &[MEASURING_CAUTION],
    };
    CAUTIONS.iter().chain(own).map(|&caution| caution.to_owned()).collect()
}

/// A step before it has its number.
struct Draft {
    kind: StepKind,
    instruction: String,
    say: Option<&'static str>,
    seconds: Option<u32>,
    squeezes: Option<u8>,
}

fn step(kind: StepKind, instruction: impl Into<String>) -> Draft {
    Draft { kind, instruction: instruction.into(), say: None, seconds: None, squeezes: None }
}

impl Draft {
    fn say(self, words: &'static str) -> Self {
        Self { say: Some(words), ..self }
    }

    fn seconds(self, seconds: u32) -> Self {
        Self { seconds: Some(seconds), ..self }
    }

    fn squeezes(self, squeezes: u8) -> Self {
        Self { squeezes: Some(squeezes), ..self }
    }
}

pub(super) fn steps(setup: &AttemptSetup) -> Vec<PlanStep> {
    let testing = match setup.method.family() {
        Family::Taste => tasting(setup),
        Family::Odour => smelling(setup),
        Family::Smoke => smoke(setup),
        Family::Aerosol | Family::Pressure => measuring(setup),
    };
    let drafts = fitting(setup).into_iter().chain(testing).chain(closing(setup));
    (1..=u8::MAX)
        .zip(drafts)
        .map(|(number, Draft { kind, instruction, say, seconds, squeezes })| PlanStep {
            number,
            kind,
            instruction,
            say: say.map(str::to_owned),
            seconds,
            squeezes,
        })
        .collect()
}

fn fitting(setup: &AttemptSetup) -> Vec<Draft> {
    let explained = match setup.method.family() {
        Family::Taste => match setup.method.agent() {
            Some(Agent::Saccharin) => {
                "You will breathe through your mouth under a hood. If you notice a sweet taste at any moment, raise your \
                 hand. Noticing it or not: both answers are useful."
            }
            _ => {
                "You will breathe through your mouth under a hood. If you notice a bitter taste at any moment, raise \
                 your hand. Noticing it or not: both answers are useful."
            }
        },
        Family::Odour => {
            "You will stand in a chamber and breathe as usual. If you notice the smell of bananas at any moment, come \
             out at once. Noticing it or not: both answers are useful."
        }
        Family::Smoke => {
            "You will keep your eyes shut while I lead a little smoke around the respirator. If you notice it at any \
             moment, step back and raise your hand. Noticing it or not: both answers are useful."
        }
        Family::Aerosol | Family::Pressure => {
            "An instrument measures how much gets in while you move as I say. You need not notice anything."
        }
    };
    vec![
        step(StepKind::Explain, "Explain the test, the exercises and the hand signal.").say(explained),
        step(
            StepKind::Don,
            "The wearer puts the respirator on alone, with a mirror and whatever else is worn at work.",
        )
        .say("Put it on the way you do at work. I may explain, but I do not touch it."),
        step(StepKind::Wear, "Let the wearer keep it on. Taking it off starts this time again.")
            .say("Keep it on and move about a little. Tell me if it presses anywhere.")
            .seconds(setup.rules.wear_seconds),
        step(StepKind::SealCheck, "The wearer checks the seal the way the maker describes.")
            .say("Check the seal now. Do you feel air at the edge?"),
    ]
}

const HANDS_OFF: &str = "Please do not touch the respirator from now on.";

fn tasting(setup: &AttemptSetup) -> Vec<Draft> {
    let Some(doses) = setup.doses() else { return Vec::new() };
    let (first, redose) = (doses.first, doses.later);
    let exercises = format!(
        "Run the exercises in order, each at its full length. Every {} seconds from the first dose give {redose} \
         squeezes, also while one exercise changes to the next.",
        doses.rules.redose_interval_seconds
    );
    vec![
        step(
            StepKind::Hood,
            "Put the hood on without touching the respirator. Take the nebulizer marked test solution.",
        )
        .say("Breathe through your slightly open mouth. Is the taste from before gone?"),
        step(
            StepKind::FirstDose,
            format!("Give {first} full squeezes through the opening. The testing begins with this dose."),
        )
        .squeezes(first),
        step(StepKind::Exercises, exercises)
            .say(HANDS_OFF)
            .seconds(setup.rules.exercise_seconds())
            .squeezes(redose),
    ]
}

fn smelling(setup: &AttemptSetup) -> Vec<Draft> {
    let settle = setup.rules.odour.as_ref().map_or(0, |odour| odour.settle_seconds);
    vec![
        step(
            StepKind::Chamber,
            "The wearer enters the chamber with the wetted towel and hangs it on the hook. Let the air settle before the \
             exercises.",
        )
        .say("Take the towel in with you and hang it up. Breathe as usual.")
        .seconds(settle),
        step(StepKind::Exercises, "Run the exercises in order, each at its full length.")
            .say(HANDS_OFF)
            .seconds(setup.rules.exercise_seconds()),
        step(
            StepKind::Prove,
            "Still in the chamber the wearer breaks the seal and takes one breath: the smell has to be noticed now.",
        )
        .say("Lift the edge a little and take a breath. What do you smell?"),
    ]
}

fn smoke(setup: &AttemptSetup) -> Vec<Draft> {
    let passes = setup.rules.smoke.as_ref().map_or(0, |smoke| smoke.perimeter_passes);
    vec![
        step(
            StepKind::Perimeter,
            format!(
                "Begin at least 30 cm (12 inches) away and lead the smoke once around the edge of the facepiece. Make \
                 {passes} passes in all, coming closer to 15 cm (6 inches)."
            ),
        )
        .say("Keep your eyes shut and breathe as usual."),
        step(
            StepKind::Exercises,
            "Run the exercises in order, each at its full length, with smoke at 15 cm (6 inches) all the time.",
        )
        .say(HANDS_OFF)
        .seconds(setup.rules.exercise_seconds()),
    ]
}

fn measuring(setup: &AttemptSetup) -> Vec<Draft> {
    let pressure = setup.method.family() == Family::Pressure;
    let connect = match setup.method {
        Method::GeneratedAerosol => {
            "Connect the sampling line, let the wearer enter the chamber, watch the peaks on entering, and start."
        }
        _ if pressure => {
            "Put the manifold in the place of the filter, practise holding the breath, and start."
        }
        _ => "Connect the sampling line to the probe or the adapter and start the instrument.",
    };
    let exercises = if pressure {
        "Run the exercises in order. After each one the wearer holds the breath for each measurement. A breath that is \
         lost begins the test again."
    } else {
        "Run the exercises in order, each at its full length, and take down what the instrument says for each."
    };
    vec![
        step(StepKind::Measure, connect),
        step(StepKind::Exercises, exercises).say(HANDS_OFF).seconds(setup.rules.exercise_seconds()),
    ]
}

fn closing(setup: &AttemptSetup) -> Vec<Draft> {
    let family = setup.method.family();
    let asked = match family {
        Family::Taste => "Did you notice the taste at any moment? Is the respirator comfortable?",
        Family::Odour => "Did you notice the smell at any moment before? Is the respirator comfortable?",
        Family::Smoke => "Did you notice the smoke at any moment? Is the respirator comfortable?",
        Family::Aerosol | Family::Pressure => "Is the respirator comfortable?",
    };
    let ask = step(StepKind::AskAgain, "Ask once more, before anything comes off.").say(asked);
    let mut steps = vec![ask];
    match family {
        Family::Taste => steps.push(step(
            StepKind::CheckNebulizer,
            "Squeeze the nebulizer once into a cloth: does it still spray?",
        )),
        Family::Smoke => steps.push(step(
            StepKind::Prove,
            "Respirator off. Lead a weak puff of the same tube past the wearer: it has to be noticed.",
        )),
        Family::Odour | Family::Aerosol | Family::Pressure => {}
    }
    if setup.modified_for_test {
        steps.push(step(
            StepKind::RemoveModification,
            "Undo everything that was changed on the respirator for the test, or set the changed facepiece aside.",
        ));
    }
    steps.push(step(StepKind::Sign, "Check the person and the respirator on the screen, then sign."));
    steps
}

pub(super) fn exercises(setup: &AttemptSetup) -> Vec<PlanExercise> {
    let planned = setup.rules.exercises.iter().map(|exercise| {
        let key = setup.exercise_key(exercise);
        let (name, say) = exercise_words(key);
        PlanExercise {
            number: exercise.number,
            key: key.to_owned(),
            name,
            seconds: exercise.seconds,
            measurements: exercise.measurements,
            measuring_seconds: exercise.measuring_seconds,
            breaths: exercise.breaths.clone(),
            sampling: exercise.sampling.clone(),
            say: say.to_owned(),
        }
    });
    planned.collect()
}

/// The name of an exercise in words, and what to say. One without words of its own is named by its key.
fn exercise_words(key: &str) -> (String, &'static str) {
    let (name, say) = match key {
        "normal_breathing" => ("Normal breathing", "Stand upright and breathe as usual, without talking."),
        "deep_breathing" => ("Deep breathing", "Breathe slowly and deeply, but not fast."),
        "head_side_to_side" => (
            "Head side to side",
            "Turn your head slowly to one side, breathe in there, then to the other side.",
        ),
        "head_up_and_down" => ("Head up and down", "Look slowly up, breathe in there, then look down."),
        "talking" => {
            ("Talking", "Read the text aloud, or count down aloud from one hundred, until I say stop.")
        }
        "bending_over" => {
            ("Bending over", "Bend down as if to touch your toes and come up again, over and over.")
        }
        "grimace" => ("Grimace", "Smile or frown, as wide as you can."),
        "facing_forward" => ("Facing forward", "Stand, look ahead and breathe as usual, without talking."),
        "head_shaking" => ("Head shaking", "Shake your head hard and call out loudly while you do."),
        "redon" => {
            ("Take off and put on again", "Take it off, loosen every strap, and put it on again yourself.")
        }
        "redon_normal_breathing" => (
            "Off and on again, then normal breathing",
            "Take it off and put it on again yourself within one minute, then breathe as usual.",
        ),
        "jogging_in_place" => ("Jogging in place", "Jog on the spot at an easy pace."),
        _ => {
            let mut words = key.replace('_', " ");
            if let Some(initial) = words.get_mut(..1) {
                initial.make_ascii_uppercase();
            }
            return (words, "Do the exercise as it was explained.");
        }
    };
    (name.to_owned(), say)
}
