//! What has to hold still when the first dose is given: things change while a respirator is fitted and worn.

use chrono::{DateTime, NaiveDate, Utc};

use crate::day::Hold;
use crate::permission::{self, PermissionFact};
use crate::refusal::{Code, Refusal};
use crate::ruleset::RuleSet;
use crate::screening::intake_over;

/// What is known of a person at the moment of the first dose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstDoseFacts {
    /// The local day of the dose.
    pub on: NaiveDate,
    /// Every decision about the person, the ones made later included.
    pub permissions: Vec<PermissionFact>,
    /// Whether hair was seen at the sealing surface, by the newest answers given by then.
    pub hair_at_seal: bool,
    /// Whether the person feels well, by the newest answers given by then.
    pub feels_well: bool,
    /// The last food, drink other than plain water, smoke or gum, by the newest answers given by then.
    pub last_intake_at: Option<DateTime<Utc>>,
}

/// Whether the first dose may be given at `at`, whatever was so when the attempt was opened.
///
/// 29 CFR 1910.134(e)(1) (permission), App. A I.A.9 (hair), I.B.3(b)(1) and I.B.4(b)(1) (nothing eaten or drunk).
pub fn may_give_first_dose(
    facts: &FirstDoseFacts,
    rules: &RuleSet,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    permission::required(&decided_by(&facts.permissions, at), facts.on)?;
    no_hair(facts.hair_at_seal)?;
    feels_well(facts.feels_well)?;
    intake_over(facts.last_intake_at, rules.screening.no_intake_seconds, at)
}

/// The decisions made by `at`. Where there was none yet, the one that let the attempt begin was written down later and
/// goes by its dates, so all of them are asked.
fn decided_by(history: &[PermissionFact], at: DateTime<Utc>) -> Vec<PermissionFact> {
    let by_then: Vec<_> = history.iter().filter(|fact| fact.happened_at <= at).cloned().collect();
    if by_then.is_empty() { history.to_vec() } else { by_then }
}

/// 29 CFR 1910.134 App. A I.A.9.
pub(super) fn no_hair(hair_at_seal: bool) -> Result<(), Refusal> {
    if !hair_at_seal {
        return Ok(());
    }
    let detail = "No test with hair at the seal: offer the shaving corner, another day, or other equipment.";
    Err(Refusal::new(Code::HairAtSeal, detail))
}

/// Refuses to go on with somebody who said that they do not feel well.
pub fn feels_well(feels_well: bool) -> Result<(), Refusal> {
    if feels_well {
        return Ok(());
    }
    let detail = "The person does not feel well: no test until new answers say otherwise.";
    Err(Refusal::new(Code::VisitNotOpen, detail).fact("hold", Hold::NotWell.as_str()))
}
