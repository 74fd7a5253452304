//! Permission to wear a respirator: a licensed clinician's decision with its dates, and never a reason.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// What the clinician decided.
    pub enum Decision {
        /// May wear a tight-fitting respirator.
        Permitted = "permitted",
        /// May wear one within the limits written on the decision.
        PermittedWithLimits = "permitted_with_limits",
        /// May not wear one for now.
        NotNow = "not_now",
        /// Nothing has been decided.
        Unknown = "unknown",
    }
}

impl Decision {
    /// Whether the decision allows a fit test.
    pub const fn permits(self) -> bool {
        matches!(self, Self::Permitted | Self::PermittedWithLimits)
    }
}

/// One decision as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PermissionFact {
    /// The stored decision.
    pub id: Uuid,
    /// What was decided.
    pub decision: Decision,
    /// First day it holds.
    pub valid_from: NaiveDate,
    /// Last day it holds; none when the clinician set no end (the rule sets none either: 29 CFR 1910.134(e)).
    pub valid_until: Option<NaiveDate>,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
}

/// The decision that permits wearing on `date`, if there is one.
///
/// The newest decision that has begun governs alone: a newer "not now", or a newer decision that has run out, is not
/// filled in by an older "permitted".
pub fn in_force(history: &[PermissionFact], date: NaiveDate) -> Option<&PermissionFact> {
    governing(history.iter(), date)
}

/// As [`in_force`], over any selection of decisions.
pub(crate) fn governing<'a>(
    history: impl Iterator<Item = &'a PermissionFact>,
    date: NaiveDate,
) -> Option<&'a PermissionFact> {
    history
        .filter(|fact| fact.valid_from <= date)
        .max_by_key(|fact| (fact.happened_at, fact.recorded_at, fact.id))
        .filter(|fact| fact.decision.permits() && fact.valid_until.is_none_or(|last| date <= last))
}

/// The last day on which `fact` will still be in force, as far as is known: its own, or the day before a newer
/// decision that permits nothing begins.
pub(crate) fn last_day<'a>(
    history: impl Iterator<Item = &'a PermissionFact>,
    fact: &PermissionFact,
) -> Option<NaiveDate> {
    let age = |fact: &PermissionFact| (fact.happened_at, fact.recorded_at, fact.id);
    let withdrawals = history.filter(|newer| !newer.decision.permits() && age(newer) > age(fact));
    withdrawals.filter_map(|newer| newer.valid_from.pred_opt()).chain(fact.valid_until).min()
}

/// The decision in force, or the refusal every desk and station gives without one.
///
/// The evaluation comes before the fit test (29 CFR 1910.134(e)(1)). The refusal says nothing about why.
pub fn required(history: &[PermissionFact], date: NaiveDate) -> Result<&PermissionFact, Refusal> {
    in_force(history, date).ok_or_else(|| {
        Refusal::new(
            Code::PermissionMissing,
            "Do not test yet: ask the person to see occupational health first.",
        )
    })
}
