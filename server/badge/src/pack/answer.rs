//! The answer of a gate alone: a pure function of what was read, the pack and the moment.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::badge::unclaimed_from;
use sellion_rules::clearance::ClearanceState;
use sellion_rules::dates::end_of_day;
use sellion_rules::gate::{
    BadgeFacts, BadgeStatus, ClearanceFact, GateDecision, GatePolicy, NotOurs, answer, answer_without_time,
};
use uuid::Uuid;

use super::{Pack, PackError};
use crate::reading::{Read, genuine, not_ours};
use crate::serial::Serial;
use crate::token::BadgeClaims;

/// How much earlier than the pack a badge may have been issued and yet be missing in it: it was being stored while the
/// pack was being made.
const BEING_STORED: TimeDelta = TimeDelta::seconds(60);

/// When the question is asked, as far as the gate can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// The gate's clock.
    pub at: DateTime<Utc>,
    /// The last moment at which the pack was known to be current.
    pub known_at: DateTime<Utc>,
    /// Whether the clock can be relied on.
    pub clock_trusted: bool,
}

impl Moment {
    /// How old the knowledge is; none where the clock shows a time before it.
    pub fn age_seconds(&self) -> u64 {
        u64::try_from((self.at - self.known_at).num_seconds()).unwrap_or_default()
    }
}

/// The answer, with what a gate shows beside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// The answer. Its reason is not for the gate.
    pub decision: GateDecision,
    /// The respirator the person may go in with, in words.
    pub respirator: Option<String>,
    /// The serial, when a badge was recognised.
    pub serial: Option<Serial>,
}

/// A badge and what is known of it.
struct Known {
    serial: Option<Serial>,
    badge: BadgeFacts,
    clearances: Vec<ClearanceFact>,
}

impl Pack {
    /// The answer to what was read.
    ///
    /// # Errors
    /// [`PackError::Content`] where a column of the pack cannot be undone.
    pub fn answer(&self, read: &Read, moment: Moment) -> Result<Told, PackError> {
        let policy = self.policy(moment.at);
        let known = self.known(read, policy.as_ref(), moment)?;
        let decision = if moment.clock_trusted {
            answer(&known.badge, &known.clearances, policy.as_ref(), moment.age_seconds(), moment.at)
        } else {
            answer_without_time(&known.badge, policy.as_ref())
        };
        let respirator = decision.respirator.and_then(|id| self.respirator(id));
        Ok(Told {
            respirator: respirator.map(|respirator| respirator.name.clone()),
            serial: known.serial,
            decision,
        })
    }

    fn known(&self, read: &Read, policy: Option<&GatePolicy>, moment: Moment) -> Result<Known, PackError> {
        let columns = &self.claims.badges;
        match read {
            Read::Typed(text) => match Serial::parse(text) {
                Err(_) => Ok(Known::not_ours(NotOurs::CodeUnreadable)),
                Ok(serial) => match self.columns.index_of(columns, serial)? {
                    None => Ok(Known::not_ours(NotOurs::UnknownBadge)),
                    Some(index) => self.stored(index, serial, policy, moment.at),
                },
            },
            Read::Code(text) => match genuine(&self.ring, text, moment.at) {
                Err(error) => Ok(Known::not_ours(not_ours(&error))),
                Ok(claims) => {
                    let index = usize::try_from(claims.status_index).unwrap_or(usize::MAX);
                    if index < columns.count() && self.columns.is(columns, index, claims.serial)? {
                        self.stored(index, claims.serial, policy, moment.at)
                    } else if index >= columns.count() && claims.issued_at + BEING_STORED >= moment.known_at {
                        Ok(self.newer(claims, policy, moment.at))
                    } else {
                        Ok(Known::not_ours(NotOurs::UnknownBadge))
                    }
                }
            },
        }
    }

    /// A badge that the pack knows.
    fn stored(
        &self,
        index: usize,
        serial: Serial,
        policy: Option<&GatePolicy>,
        at: DateTime<Utc>,
    ) -> Result<Known, PackError> {
        let columns = &self.claims.badges;
        let mut status = self.columns.status(columns, index)?;
        if status == BadgeStatus::Valid
            && self.columns.unclaimed_from(columns, index)?.is_some_and(|from| from <= at)
        {
            status = BadgeStatus::Unclaimed;
        }
        let expires_at = self.columns.end(columns, index)?;
        let clearances = match status {
            BadgeStatus::Valid | BadgeStatus::Held | BadgeStatus::Unclaimed => {
                self.clearances(index, policy)?
            }
            BadgeStatus::Ended | BadgeStatus::Replaced => Vec::new(),
        };
        Ok(Known { serial: Some(serial), badge: BadgeFacts::Known { status, expires_at }, clearances })
    }

    /// A badge that is younger than the pack: what it says itself is signed, and was asked for when it was printed, so
    /// that is the newest knowledge there is. Whether somebody handed it over it does not know.
    fn newer(&self, claims: BadgeClaims, policy: Option<&GatePolicy>, at: DateTime<Utc>) -> Known {
        let accepted = |id: &Uuid| policy.is_some_and(|policy| policy.accepted_respirators.contains(id));
        let cleared = claims.respirators.iter().filter_map(|cleared| {
            let number: i32 = cleared.code.parse().ok()?;
            let respirator = self.claims.respirators.iter().find(|respirator| respirator.number == number)?;
            let id = respirator.listed.respirator;
            accepted(&id).then_some(ClearanceFact {
                respirator: id,
                state: ClearanceState::Cleared,
                valid_from: Some(claims.issued_at),
                valid_until: Some(end_of_day(cleared.due_on, self.zone)),
            })
        });
        let clearances = cleared.collect();
        let after_days = self.claims.unclaimed_after_days;
        let unclaimed = after_days.is_some_and(|days| unclaimed_from(claims.issued_at, days) <= at);
        let status = if unclaimed { BadgeStatus::Unclaimed } else { BadgeStatus::Valid };
        let badge = BadgeFacts::Known { status, expires_at: claims.expires_at };
        Known { serial: Some(claims.serial), badge, clearances }
    }
}

impl Known {
    fn not_ours(why: NotOurs) -> Self {
        Self { serial: None, badge: BadgeFacts::NotOurs(why), clearances: Vec::new() }
    }
}
