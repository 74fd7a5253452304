//! The plan of an attempt: every number a station shows comes from here.

use sellion_rules::attempt::{StepKind, plan};
use sellion_rules::level::Level;
use sellion_rules::supplies::Agent;

use crate::support::setup;

/// 29 CFR 1910.134 App. A I.B.3(b)(7), (9) and I.B.4(b)(7), (9), with the exercises of I.A.14 (facts 3.84 and 3.85).
#[test]
fn fact_3_84_and_3_85_doses_and_squeezes() {
    for &agent in Agent::TASTES {
        for (level, first, redose, total) in
            [(Level::Ten, 10, 5, 75), (Level::Twenty, 20, 10, 150), (Level::Thirty, 30, 15, 225)]
        {
            let plan = plan(&setup(agent, level));
            let doses = plan.doses.expect("doses");
            assert_eq!((doses.first_dose, doses.redose, doses.expected_squeezes), (first, redose, total));
            assert_eq!((doses.redose_interval_seconds, doses.expected_redoses), (30, 13));
            assert_eq!((plan.wear_seconds, plan.exercise_seconds), (300, 420));
        }
    }
}

#[test]
fn steps_come_in_order_and_in_words() {
    let plan = plan(&setup(Agent::DenatoniumBenzoate, Level::Thirty));
    assert_eq!(
        plan.steps.iter().map(|step| step.kind).collect::<Vec<_>>(),
        [
            StepKind::Explain,
            StepKind::Don,
            StepKind::Wear,
            StepKind::SealCheck,
            StepKind::Hood,
            StepKind::FirstDose,
            StepKind::Exercises,
            StepKind::AskAgain,
            StepKind::CheckNebulizer,
            StepKind::Sign,
        ]
    );
    assert_eq!(plan.steps.iter().map(|step| step.number).collect::<Vec<_>>(), (1..=10).collect::<Vec<_>>());
    let step = |kind| plan.steps.iter().find(|step| step.kind == kind).expect("a step");
    assert_eq!(step(StepKind::Wear).seconds, Some(300));
    assert_eq!(step(StepKind::FirstDose).squeezes, Some(30));
    assert!(step(StepKind::FirstDose).instruction.contains("30 full squeezes"));
    assert!(step(StepKind::Exercises).instruction.contains("Every 30 seconds"));
    assert!(step(StepKind::Exercises).instruction.contains("15 squeezes"));
    assert!(step(StepKind::Explain).say.as_deref().is_some_and(|say| say.contains("bitter taste")));
    let sweet = sellion_rules::attempt::plan(&setup(Agent::Saccharin, Level::Ten));
    assert!(sweet.steps[0].say.as_deref().is_some_and(|say| say.contains("sweet taste")));
    let words = serde_json::to_string(&plan).expect("json");
    assert!(!words.contains("  ") && !words.contains('\\'), "clean sentences: {words}");
    assert_eq!(plan.cautions.len(), 4);
}

/// 29 CFR 1910.134 App. A I.A.14(a)(7) (fact 2.22).
#[test]
fn fact_2_22_jogging_where_the_hood_does_not_let_the_wearer_bend() {
    let mut setup = setup(Agent::Saccharin, Level::Ten);
    let names =
        |setup: &_| plan(setup).exercises.into_iter().map(|exercise| exercise.name).collect::<Vec<_>>();
    assert_eq!(names(&setup)[5], "Bending over");
    setup.jogging_instead_of_bending = true;
    assert_eq!(names(&setup)[5], "Jogging in place");
    assert_eq!(names(&setup)[4], "Talking");
}

#[test]
fn an_exercise_of_another_rule_set_has_a_name_too() {
    let mut setup = setup(Agent::Saccharin, Level::Ten);
    setup.rules.exercises[0].key = "step_up".to_owned();
    assert_eq!(plan(&setup).exercises[0].name, "Step up");
    setup.rules.exercises[0].key = String::new();
    assert_eq!(plan(&setup).exercises[0].name, "");
    setup.rules.exercises[0].key = "\u{e9}tirer".to_owned();
    assert_eq!(plan(&setup).exercises[0].name, "\u{e9}tirer");
}
