//! Short ways to ask the rule set and to play a run.

use sellion_rules::attempt::{
    AttemptEventKind as Kind, AttemptSetup, Outcome, SealCheckResult, VerdictReason,
};
use sellion_rules::fit_factor::{Quantity, Reading};
use sellion_rules::method::Method;
use sellion_rules::respirator::Facepiece;
use sellion_rules::ruleset::{Exercise, Recipe, RuleScalar, RuleStatus, RuleValue};
use sellion_rules::supplies::{Agent, Solution};

use crate::support::{Run, rules, setup_for, setup_of};

pub(crate) const ASKED: Kind = Kind::AskedAgain { tasted: false, comfortable: true };
/// The beginning of the testing in every run told here.
pub(crate) const BEGIN: i64 = 400;

pub(crate) fn value(key: &str) -> RuleValue {
    rules().values().iter().find(|value| value.key == key).unwrap_or_else(|| panic!("no {key}")).clone()
}

/// The number of a key, and that its source names the paragraph.
pub(crate) fn is(key: &str, number: i64, paragraph: &str) {
    let value = value(key);
    assert_eq!(value.value, RuleScalar::Number(number), "{key}");
    cites(&value, paragraph);
}

/// The text of a key, and that its source names the paragraph.
pub(crate) fn says(key: &str, text: &str, paragraph: &str) {
    let value = value(key);
    assert_eq!(value.value, RuleScalar::Text(text.to_owned()), "{key}");
    cites(&value, paragraph);
}

pub(crate) fn cites(value: &RuleValue, paragraph: &str) {
    assert!(value.source.contains(paragraph), "{}: {} is not {paragraph}", value.key, value.source);
}

pub(crate) fn status(key: &str) -> RuleStatus {
    value(key).status
}

pub(crate) fn recipe(agent: Agent, solution: Solution) -> Recipe {
    let rules = rules();
    rules.recipes.iter().find(|recipe| recipe.agent == agent && recipe.solution == solution).unwrap().clone()
}

/// The amounts of a recipe as numbers.
pub(crate) fn amounts(agent: Agent, solution: Solution) -> Vec<f64> {
    recipe(agent, solution).ingredients.iter().map(|ingredient| ingredient.amount.parse().unwrap()).collect()
}

pub(crate) fn exercises(method: Method) -> Vec<Exercise> {
    setup_of(method).rules.exercises
}

pub(crate) fn keys(method: Method) -> Vec<String> {
    exercises(method).into_iter().map(|exercise| exercise.key).collect()
}

pub(crate) fn seconds(method: Method) -> Vec<u32> {
    exercises(method).iter().map(|exercise| exercise.seconds).collect()
}

pub(crate) fn fitted(setup: AttemptSetup) -> Run {
    let mut run = Run::new(setup);
    run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
    run.ok(90, Kind::SealChecked { result: SealCheckResult::Ok });
    run
}

pub(crate) fn quantity(text: &str) -> Quantity {
    text.parse().unwrap()
}

/// A measured run with these fit factors, to the end of the measuring.
pub(crate) fn measured(method: Method, facepiece: Facepiece, factors: &[&str]) -> Run {
    let mut run = fitted(setup_for(method, facepiece));
    let peak_percent = (method == Method::GeneratedAerosol).then(|| quantity("0.5"));
    run.ok(BEGIN, Kind::MeasuringStarted { before: None, peak_percent });
    for factor in factors {
        let next = run.state.summary().next_measurement.expect("a measurement");
        let at = (next.earliest_at - crate::support::zero()).num_seconds();
        let reading = Reading::FitFactor { fit_factor: quantity(factor) };
        run.ok(at, Kind::Measured { exercise: next.exercise, reading, typed_first: None, peak_percent });
    }
    let end = BEGIN + i64::from(run.state.setup().rules.exercise_seconds());
    run.ok(end, Kind::MeasuringEnded { after: None });
    run
}

/// Whether these fit factors fail by themselves.
pub(crate) fn fails(method: Method, facepiece: Facepiece, factors: &[&str]) -> bool {
    measured(method, facepiece, factors)
        .state
        .verdict()
        .is_some_and(|verdict| verdict.outcome == Outcome::Fail)
}

/// The overall fit factor as it is shown.
pub(crate) fn overall(method: Method, facepiece: Facepiece, factors: &[&str]) -> String {
    measured(method, facepiece, factors).state.fit().unwrap().overall.unwrap()
}

pub(crate) fn ended(run: &Run) -> (Outcome, VerdictReason) {
    (run.verdict().outcome, run.verdict().reason)
}
