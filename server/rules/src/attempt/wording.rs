//! The words of the plan: what the tester does and says. Plain, short, and neutral about the answer that is wanted.

use super::plan::{PlanExercise, PlanStep, StepKind};
use super::setup::AttemptSetup;
use crate::method::Method;
use crate::supplies::Agent;

/// Cautions to keep in sight during a test.
const CAUTIONS: &[&str] = &[
    "Stop at once if the person is short of breath, dizzy, in pain or distressed, or asks to stop: hood and \
     respirator off, fresh air, call help.",
    "Test only people with a current permission to wear a respirator.",
    "Ask about earlier reactions to the taste agent, and keep the spray out of the eyes.",
    "A pass holds only for this make, model, style and size, on the face as it is today.",
];

/// The cautions of a method.
pub(super) fn cautions(_method: Method) -> Vec<String> {
    CAUTIONS.iter().map(|&caution| caution.to_owned()).collect()
}

/// A step before it has its number: what it is about, what to do, what to say, seconds, squeezes.
type Draft = (StepKind, String, Option<String>, Option<u32>, Option<u8>);

pub(super) fn steps(setup: &AttemptSetup) -> Vec<PlanStep> {
    let drafts = before_testing(setup).into_iter().chain(under_the_hood(setup)).chain(after_testing());
    (1..=u8::MAX)
        .zip(drafts)
        .map(|(number, (kind, instruction, say, seconds, squeezes))| PlanStep {
            number,
            kind,
            instruction,
            say,
            seconds,
            squeezes,
        })
        .collect()
}

fn before_testing(setup: &AttemptSetup) -> Vec<Draft> {
    let rules = &setup.rules;
    let taste = setup.method.agent().map_or("smell or taste", Agent::sensation);
    vec![
        (
            StepKind::Explain,
            "Explain the test, the exercises and the hand signal.".to_owned(),
            Some(format!(
                "You will breathe through your mouth under a hood. If you notice a {taste} at any moment, raise \
                 your hand. Noticing it or not: both answers are useful."
            )),
            None,
            None,
        ),
        (
            StepKind::Don,
            "The wearer puts the respirator on alone, with a mirror and whatever else is worn at work."
                .to_owned(),
            Some("Put it on the way you do at work. I may explain, but I do not touch it.".to_owned()),
            None,
            None,
        ),
        (
            StepKind::Wear,
            "Let the wearer keep it on. Taking it off starts this time again.".to_owned(),
            Some("Keep it on and move about a little. Tell me if it presses anywhere.".to_owned()),
            Some(rules.wear_seconds),
            None,
        ),
        (
            StepKind::SealCheck,
            "The wearer checks the seal the way the maker describes.".to_owned(),
            Some("Check the seal now. Do you feel air at the edge?".to_owned()),
            None,
            None,
        ),
    ]
}

fn under_the_hood(setup: &AttemptSetup) -> Vec<Draft> {
    let Some(doses) = setup.doses() else { return Vec::new() };
    let (first, redose) = (doses.first, doses.later);
    vec![
        (
            StepKind::Hood,
            "Put the hood on without touching the respirator. Take the nebulizer marked test solution."
                .to_owned(),
            Some("Breathe through your slightly open mouth. Is the taste from before gone?".to_owned()),
            None,
            None,
        ),
        (
            StepKind::FirstDose,
            format!("Give {first} full squeezes through the opening. The testing begins with this dose."),
            None,
            None,
            Some(first),
        ),
        (
            StepKind::Exercises,
            format!(
                "Run the exercises in order, each at its full length. Every {} seconds from the first dose give \
                 {redose} squeezes, also while one exercise changes to the next.",
                doses.rules.redose_interval_seconds
            ),
            Some("Please do not touch the respirator from now on.".to_owned()),
            Some(setup.rules.exercise_seconds()),
            Some(redose),
        ),
    ]
}

fn after_testing() -> Vec<Draft> {
    vec![
        (
            StepKind::AskAgain,
            "Ask once more, before hood and respirator come off.".to_owned(),
            Some("Did you notice the taste at any moment? Is the respirator comfortable?".to_owned()),
            None,
            None,
        ),
        (
            StepKind::CheckNebulizer,
            "Squeeze the nebulizer once into a cloth: does it still spray?".to_owned(),
            None,
            None,
            None,
        ),
        (
            StepKind::Sign,
            "Check the person and the respirator on the screen, then sign.".to_owned(),
            None,
            None,
            None,
        ),
    ]
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
