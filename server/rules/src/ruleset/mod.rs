//! Rule sets: dated, versioned settings as data, each with its source.

mod complete;
mod diff;
mod document;
mod embedded;
mod exercises;
mod fields;
mod keys;
mod listing;
mod mistake;
mod own;
mod protocol;
mod recipe;
mod resolve;
mod strictness;
mod tree;
mod values;
mod written;
mod written_exercises;
mod written_recipes;

pub use diff::{Difference, diff};
pub use document::Document;
pub use keys::{KEYS, Key, Scope, Silent, Slot};
pub use mistake::{Mistake, MistakeKind, Open, RuleSetError};
pub use own::FindBase;
pub use protocol::{
    AttemptRules, DoseRules, Exercise, FitReading, MeasuringRules, MethodRules, OdourRules, SmokeRules,
    UnsureReading,
};
pub use recipe::{Ingredient, Recipe};
pub use strictness::Kind;
pub use values::{
    ClearanceRules, LadderRules, MeasuredFail, NotAccepted, RuleScalar, RuleSet, RuleSetVersion, RuleStatus,
    RuleValue, ScreeningRules, SupplyRules,
};
