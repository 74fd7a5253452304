//! A run told in seconds, so that tests read like a stopwatch.

use chrono::{DateTime, TimeDelta, TimeZone, Utc};
use sellion_rules::attempt::{
    AttemptEvent, AttemptEventKind as Kind, AttemptSetup, SealCheckResult, State, Verdict,
};
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::respirator::Facepiece;
use sellion_rules::ruleset::{AttemptRules, Document, RuleSet};
use sellion_rules::supplies::Agent;
use sellion_rules::{Code, FactValue, Refusal};
use uuid::Uuid;

pub(crate) const NAME: &str = "us-29cfr1910-134";
pub(crate) const VERSION: &str = "2019-09-26.2";

/// The second of the first dose in a run of [`Run::ready`].
pub(crate) const FIRST: i64 = 400;

pub(crate) fn rules() -> RuleSet {
    RuleSet::find(NAME, VERSION).expect("the embedded rule set")
}

/// As [`rules`], with irritant smoke switched on.
pub(crate) fn rules_with_smoke() -> RuleSet {
    let text = format!(
        "name = \"with-smoke\"\nversion = \"2026-11-25.1\"\ntitle = \"With smoke\"\n\
         based_on = [{{ name = \"{NAME}\", version = \"{VERSION}\" }}]\n\
         [values.irritant_smoke.accepted]\nvalue = true\nunit = \"yes or no\"\nsource = \"our own decision\"\n\
         status = \"confirmed\"\nconfirmed_by = \"Ines Valdrun\"\nconfirmed_on = 2026-11-25\n"
    );
    let document =
        Document::read_own(&text, &Document::find).unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
    document.resolve().unwrap_or_else(|open| panic!("{open:?}"))
}

pub(crate) fn utc(text: &str) -> DateTime<Utc> {
    text.parse().expect("a time in RFC 3339")
}

pub(crate) fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

/// The end of the screening in every run told here.
pub(crate) fn zero() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2027, 3, 8, 9, 0, 0).single().expect("a moment")
}

pub(crate) fn second(seconds: i64) -> DateTime<Utc> {
    zero() + TimeDelta::seconds(seconds)
}

/// What governs an attempt on a half facepiece.
pub(crate) fn attempt_rules(method: Method) -> AttemptRules {
    rules().method(method).expect("an accepted method").attempt(Facepiece::HalfMask).clone()
}

pub(crate) fn setup(agent: Agent, level: Level) -> AttemptSetup {
    let method = Method::from(agent);
    AttemptSetup {
        method,
        level: Some(level),
        jogging_instead_of_bending: false,
        screened_at: Some(zero()),
        last_intake_at: None,
        modified_for_test: false,
        rules: attempt_rules(method),
    }
}

/// A setup with any method on a half mask.
pub(crate) fn setup_of(method: Method) -> AttemptSetup {
    setup_for(method, Facepiece::HalfMask)
}

/// A setup with any method; irritant smoke as a site has it that switched it on.
pub(crate) fn setup_for(method: Method, facepiece: Facepiece) -> AttemptSetup {
    let tasted = method.agent().is_some_and(Agent::is_tasted);
    AttemptSetup {
        method,
        level: tasted.then_some(Level::Ten),
        jogging_instead_of_bending: false,
        screened_at: method.agent().map(|_| zero()),
        last_intake_at: None,
        modified_for_test: method.is_quantitative(),
        rules: rules_with_smoke().method(method).expect("an accepted method").attempt(facepiece).clone(),
    }
}

pub(crate) struct Run {
    pub(crate) state: State,
}

impl Run {
    pub(crate) fn new(setup: AttemptSetup) -> Self {
        Self { state: State::new(setup) }
    }

    /// A run at level 10 with saccharin, before its first event.
    pub(crate) fn fresh() -> Self {
        Self::new(setup(Agent::Saccharin, Level::Ten))
    }

    /// A run that is ready for its first dose at second [`FIRST`].
    pub(crate) fn ready(setup: AttemptSetup) -> Self {
        let mut run = Self::new(setup);
        run.ok(60, Kind::Donned { by_wearer: true, fresh: false });
        run.ok(90, Kind::SealChecked { result: SealCheckResult::Ok });
        run.ok(380, Kind::Hooded { taste_gone: true });
        run
    }

    /// A run at level 10 with saccharin, its first dose given at second [`FIRST`].
    pub(crate) fn testing() -> Self {
        let mut run = Self::ready(setup(Agent::Saccharin, Level::Ten));
        run.ok(FIRST, Kind::DoseGiven { squeezes: 10 });
        run
    }

    /// A run whose last exercise ended at second `FIRST + 420`, with every dose given on time.
    pub(crate) fn closing(setup: AttemptSetup) -> Self {
        let first = setup.level.expect("a level").squeezes();
        let redose = first / 2;
        let mut run = Self::ready(setup);
        run.ok(FIRST, Kind::DoseGiven { squeezes: first });
        run.exercises(0, 7, redose);
        run
    }

    /// Exercises `done + 1` to `last`, one after the other without a pause, with every dose on time.
    pub(crate) fn exercises(&mut self, done: u8, last: u8, redose: u8) {
        for number in done + 1..=last {
            let begin = FIRST + 60 * i64::from(number - 1);
            self.ok(begin, Kind::ExerciseStarted { number });
            self.ok(begin + 30, Kind::DoseGiven { squeezes: redose });
            if number < 7 {
                self.ok(begin + 60, Kind::DoseGiven { squeezes: redose });
            }
            self.ok(begin + 60, Kind::ExerciseEnded { number });
        }
    }

    pub(crate) fn event(&self, at_second: i64, kind: Kind) -> AttemptEvent {
        AttemptEvent { seq: self.state.next_seq(), happened_at: second(at_second), kind }
    }

    pub(crate) fn ok(&mut self, at_second: i64, kind: Kind) {
        let event = self.event(at_second, kind);
        if let Err(refusal) = self.state.apply(&event) {
            panic!("{kind:?} at second {at_second} was refused: {refusal}");
        }
    }

    /// The refusal of an event, which must leave the run as it was.
    pub(crate) fn refused(&mut self, at_second: i64, kind: Kind) -> Refusal {
        let event = self.event(at_second, kind);
        let before = self.state.clone();
        let refusal = self.state.apply(&event).expect_err("a refusal");
        assert_eq!(self.state, before, "a refusal changes nothing");
        refusal
    }

    pub(crate) fn verdict(&self) -> Verdict {
        self.state.verdict().expect("a verdict")
    }
}

pub(crate) fn number(refusal: &Refusal, name: &str) -> i64 {
    match refusal.facts.get(name) {
        Some(FactValue::Number(number)) => *number,
        other => panic!("{name} is {other:?} in {refusal}"),
    }
}

pub(crate) fn time(refusal: &Refusal, name: &str) -> DateTime<Utc> {
    match refusal.facts.get(name) {
        Some(FactValue::Time(time)) => *time,
        other => panic!("{name} is {other:?} in {refusal}"),
    }
}

pub(crate) fn code<T: std::fmt::Debug>(result: Result<T, Refusal>) -> Code {
    result.expect_err("a refusal").code
}
