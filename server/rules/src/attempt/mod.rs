//! One attempt as a pure state machine: the verdict is a function of the setup and the list of events.

mod event;
mod fitting;
mod from_file;
mod machine;
mod measuring;
mod noticing;
mod plan;
mod setup;
mod state;
mod testing;
mod verdict;
mod wording;

pub use event::{AttemptEvent, AttemptEventKind, SealCheckResult};
pub use from_file::{OfFile, events_of_file};
pub use measuring::{ExerciseFit, FitSummary, NextMeasurement};
pub use plan::{
    Plan, PlanDoses, PlanExercise, PlanMeasuring, PlanStep, ReadyPlan, StepKind, plan, ready_plans,
};
pub use setup::AttemptSetup;
pub use state::{CurrentExercise, Missing, NextDose, Phase, State, Summary, replay};
pub use verdict::{Outcome, Verdict, VerdictReason};
