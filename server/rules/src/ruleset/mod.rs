//! Rule sets: dated, versioned settings as data, each value with its source.

use std::sync::OnceLock;

mod parse;
mod protocol;
mod values;

pub use parse::RuleSetError;
pub use protocol::{
    AttemptRules, DoseRules, Exercise, FitReading, MeasuredFail, MeasuringRules, MethodRules, OdourRules,
    SmokeRules, UnsureReading,
};
pub use values::{
    ClearanceRules, LadderRules, RuleScalar, RuleSet, RuleStatus, RuleValue, ScreeningRules, SupplyRules,
};

/// The rule sets that come with the program, one file each.
const EMBEDDED: &[&str] = &[include_str!("../../rulesets/us-29cfr1910-134.toml")];

impl RuleSet {
    /// Every rule set that comes with the program, or the first thing wrong with one of them.
    ///
    /// They are read once; later calls copy what was read.
    pub fn load_embedded() -> Result<Vec<Self>, RuleSetError> {
        static READ: OnceLock<Result<Vec<RuleSet>, RuleSetError>> = OnceLock::new();
        READ.get_or_init(|| EMBEDDED.iter().map(|text| Self::parse(text)).collect()).clone()
    }

    /// The rule set of that name and version, if it comes with the program.
    pub fn find(name: &str, version: &str) -> Option<Self> {
        Self::load_embedded().ok()?.into_iter().find(|set| set.name == name && set.version == version)
    }
}
