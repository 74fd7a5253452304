//! The typed values of a rule set.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::protocol::{MeasuredFail, MethodRules};
use crate::dates::{DueReading, Interval};
use crate::ladder::LadderKind;
use crate::method::Method;
use crate::refusal::{Code, Refusal};
use crate::supplies::Agent;
use crate::text_enum::text_enum;

text_enum! {
    /// How far a value of a rule set can be trusted.
    pub enum RuleStatus {
        /// Read in the text it cites, or computed from it.
        Verified = "verified",
        /// What the trade does; no text demands it.
        CommonPractice = "common_practice",
        /// Not confirmed by anybody; a person has to confirm it before it counts.
        Unconfirmed = "unconfirmed",
    }
}

/// A plain value of a rule set, as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum RuleScalar {
    /// Yes or no.
    Flag(bool),
    /// A whole number.
    Number(i64),
    /// A word; `not_set` where a value is left open on purpose.
    Text(String),
}

/// One value with its unit and its source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RuleValue {
    /// Its name within the rule set.
    pub key: String,
    /// The value.
    pub value: RuleScalar,
    /// Its unit in words, such as `seconds` or `squeezes`.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
    /// How far it can be trusted.
    pub status: RuleStatus,
}

/// Values of the taste screening.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScreeningRules {
    /// Sets at most, one for each level.
    pub sets: u8,
    /// Squeezes of one set.
    pub set_squeezes: u8,
    /// Seconds without food, drink other than plain water, smoke or gum.
    pub no_intake_seconds: u32,
    /// Whether plain water has to be tried before the first set.
    #[serde(default)]
    pub plain_water_check: bool,
}

/// Values of the retest ladder.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LadderRules {
    /// How a fail is followed.
    pub kind: LadderKind,
    /// Fails of one day after which the person is referred.
    pub fails_before_referral: u32,
    /// Seconds to wait after a fail.
    pub wait_after_fail_seconds: u32,
    /// Seconds to wait after the other agent.
    pub agent_switch_wait_seconds: u32,
    /// Seconds to wait after an odour was not noticed that had been noticed before a fail.
    pub wait_after_failed_odour_seconds: u32,
    /// What follows a measured fail.
    pub quantitative_after_fail: MeasuredFail,
}

/// Values of supplies.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SupplyRules {
    /// Seconds a fill may be used before rinsing and refilling.
    pub fill_life_seconds: u32,
    /// Days a bottle may be used after it was opened; none where nobody has set it.
    pub opened_life_days: Option<u32>,
}

/// Values of the clearance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClearanceRules {
    /// The time until the next test is due.
    pub interval: Interval,
    /// How that time is read.
    pub due_reading: DueReading,
    /// The greatest fit factor a taste test may stand for.
    pub qualitative_fit_factor_max: u32,
}

/// A dated, versioned list of settings. Changing a value makes a new version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleSet {
    /// Its stable name.
    pub name: String,
    /// Its version: the date of the text it follows, and a running number.
    pub version: String,
    /// Its title in words.
    pub title: String,
    /// The taste screening.
    pub screening: ScreeningRules,
    /// The methods it accepts.
    pub methods: BTreeMap<Method, MethodRules>,
    /// The retest ladder.
    pub ladder: LadderRules,
    /// Supplies.
    pub supplies: SupplyRules,
    /// Clearance.
    pub clearance: ClearanceRules,
    /// The agents this set accepts, the preferred one first.
    pub agents: Vec<Agent>,
    pub(super) listed: Vec<RuleValue>,
}

impl RuleSet {
    /// The values of a method, or why it is not accepted here.
    pub fn method(&self, method: Method) -> Result<&MethodRules, Refusal> {
        self.methods.get(&method).ok_or_else(|| {
            let detail = format!("The rule set of this day does not accept {}.", method.name());
            Refusal::new(Code::TestMethodNotAllowed, detail).field("method")
        })
    }

    /// Every value with its unit, source and status, in a fixed order.
    pub fn values(&self) -> &[RuleValue] {
        &self.listed
    }

    /// Values that a person still has to confirm, leaving out those that are not set at all.
    pub fn unconfirmed(&self) -> impl Iterator<Item = &RuleValue> {
        self.listed.iter().filter(|value| value.status == RuleStatus::Unconfirmed)
    }
}
