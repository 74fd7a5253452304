//! The typed values of a rule set.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::protocol::MethodRules;
use super::recipe::Recipe;
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
        /// Set by a site on the word of a named person.
        Confirmed = "confirmed",
        /// Not confirmed by anybody; a person has to confirm it before it counts.
        Unconfirmed = "unconfirmed",
    }
}

impl RuleStatus {
    /// Whether a value may be used. What nobody has confirmed is shown and never used.
    pub const fn counts(self) -> bool {
        !matches!(self, Self::Unconfirmed)
    }
}

text_enum! {
    /// What follows when a measured fit factor was too low.
    pub enum MeasuredFail {
        /// The same respirator may be put on again and measured again.
        Refit = "refit",
        /// Another respirator has to be taken.
        AnotherRespirator = "another_respirator",
    }
}

/// The word for a value that is left open on purpose.
const NOT_SET: &str = "not_set";

/// One version of a rule set, by name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RuleSetVersion {
    /// Its stable name.
    pub name: String,
    /// Its version: the date of the text it follows, and a running number.
    pub version: String,
}

impl RuleSetVersion {
    /// Date and running number, by which the newest of several versions is found; none for what is no version.
    pub fn place(&self) -> Option<(NaiveDate, u32)> {
        let (date, running) = self.version.split_once('.')?;
        let digits = !running.is_empty() && running.bytes().all(|byte| byte.is_ascii_digit());
        let date = NaiveDate::from_str(date).ok().filter(|read| read.to_string() == date)?;
        running.parse().ok().filter(|_| digits).map(|running| (date, running))
    }
}

impl fmt::Display for RuleSetVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.name, self.version)
    }
}

/// Who answers for a value of a site's own, and since when.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Confirmation {
    /// The person, by name.
    pub confirmed_by: String,
    /// The day.
    pub confirmed_on: NaiveDate,
}

/// A plain value of a rule set, as listed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
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

impl RuleScalar {
    /// The value of what is left open on purpose.
    pub fn not_set() -> Self {
        Self::Text(NOT_SET.to_owned())
    }

    /// Whether it is left open on purpose.
    pub fn is_not_set(&self) -> bool {
        matches!(self, Self::Text(word) if word == NOT_SET)
    }
}

impl fmt::Display for RuleScalar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(true) => f.write_str("yes"),
            Self::Flag(false) => f.write_str("no"),
            Self::Number(number) => write!(f, "{number}"),
            Self::Text(text) => f.write_str(text),
        }
    }
}

/// One value with its unit and its source.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
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
    /// The rule sets whose value it is: several where they agree, or where only together they give it.
    pub decided_by: Vec<RuleSetVersion>,
    /// Who confirmed it, where a site has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_by: Option<String>,
    /// When that was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_on: Option<NaiveDate>,
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
    /// Whether plain water is tried before the first set.
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
    /// Seconds to wait after an odour was not noticed that had been noticed before; none where no odour is used.
    pub wait_after_failed_odour_seconds: u32,
    /// What follows when a measured fit factor was too low.
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

/// Why a method is not accepted, and by what.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct NotAccepted {
    /// One sentence for a person.
    pub sentence: String,
    /// Where that comes from.
    pub source: String,
}

/// A dated, versioned list of settings that may be used. Changing a value makes a new version.
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
    /// Why it does not accept the others.
    pub not_accepted: BTreeMap<Method, NotAccepted>,
    /// The retest ladder.
    pub ladder: LadderRules,
    /// Supplies.
    pub supplies: SupplyRules,
    /// Clearance.
    pub clearance: ClearanceRules,
    /// The agents of the accepted methods, in the order of the methods.
    pub agents: Vec<Agent>,
    /// How solutions are made in-house.
    pub recipes: Vec<Recipe>,
    pub(super) listed: Vec<RuleValue>,
}

impl RuleSet {
    /// The values of a method, or why it is not accepted here.
    pub fn method(&self, method: Method) -> Result<&MethodRules, Refusal> {
        self.methods.get(&method).ok_or_else(|| {
            let refusal = |detail: String| Refusal::new(Code::TestMethodNotAllowed, detail).field("method");
            match self.not_accepted.get(&method) {
                Some(why) => refusal(why.sentence.clone()).fact("source", why.source.clone()),
                None => refusal(format!(
                    "The rule set {} {} does not list {}.",
                    self.name,
                    self.version,
                    method.name()
                )),
            }
        })
    }

    /// Every value with its unit, source and status, in a fixed order.
    pub fn values(&self) -> &[RuleValue] {
        &self.listed
    }

    /// Values that a person still has to confirm, and those left open.
    pub fn unconfirmed(&self) -> impl Iterator<Item = &RuleValue> {
        self.listed.iter().filter(|value| value.status == RuleStatus::Unconfirmed)
    }
}
