//! Clearance: what follows from attempts, permission, dates and stops. Computed, never typed.

use std::{cmp::Reverse, collections::BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::attempt::Outcome;
use crate::dates::{DueDates, due_dates, end_of_day, local_date, start_of_day};
use crate::eligibility::suffices;
use crate::method::Method;
use crate::permission::{PermissionFact, governing, last_day};
use crate::respirator::AirSupply;
use crate::ruleset::{ClearanceRules, RuleSet};
use crate::text_enum::text_enum;

text_enum! {
    /// Whether a person is cleared for one respirator.
    pub enum ClearanceState {
        /// Cleared.
        Cleared = "cleared",
        /// The result it would stand on is in doubt.
        Held = "held",
        /// Not cleared.
        NotCleared = "not_cleared",
    }
}

text_enum! {
    /// Why a person is not cleared, or only held.
    pub enum ClearanceReason {
        /// No attempt that counts.
        NeverTested = "never_tested",
        /// The newest attempt that counts is a fail.
        NewestIsFail = "newest_is_fail",
        /// The due day has passed.
        Overdue = "overdue",
        /// No permission is in force.
        NoPermission = "no_permission",
        /// The pass was made with a lot that is stopped.
        LotStopped = "lot_stopped",
        /// The person has left.
        PersonInactive = "person_inactive",
        /// The pass stands on a bottle, a fill, a nebulizer, a hood, a tester or a time at a station that is in doubt.
        InDoubt = "in_doubt",
        /// The method of the pass cannot clear this respirator for its use.
        MethodNotAllowed = "method_not_allowed",
    }
}

/// A stop that puts an attempt in doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StopFact {
    /// The stop.
    pub stop: Uuid,
    /// Whether it is one of a lot.
    pub of_lot: bool,
    /// When the stop was stored.
    pub recorded_at: DateTime<Utc>,
    /// When its release was stored, if it was released.
    pub released_recorded_at: Option<DateTime<Utc>>,
}

/// One ended attempt of the person on the respirator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AttemptResult {
    /// The attempt.
    pub id: Uuid,
    /// Its method.
    pub method: Method,
    /// How it ended.
    pub outcome: Outcome,
    /// The first dose, whose local day is the day of the test; none when it ended before one.
    pub testing_started_at: Option<DateTime<Utc>>,
    /// When it ended.
    pub ended_at: DateTime<Utc>,
    /// When its end was stored.
    pub recorded_at: DateTime<Utc>,
    /// When a correction took it away, if one did.
    pub corrected_recorded_at: Option<DateTime<Utc>>,
    /// Stops of what it stands on, of its screening's fill too.
    pub stops: Vec<StopFact>,
}

/// The person's last day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeavingFact {
    /// The last day the person belongs to the site.
    pub last_day: NaiveDate,
    /// When that was stored.
    pub recorded_at: DateTime<Utc>,
}

/// Everything that bears on one person and one respirator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonRespiratorFacts {
    /// Ended attempts of this person on this very make, model, style and size.
    pub attempts: Vec<AttemptResult>,
    /// Every decision about the person.
    pub permissions: Vec<PermissionFact>,
    /// When the person leaves, if that is known.
    pub leaving: Option<LeavingFact>,
    /// How the wearer of this respirator gets air.
    pub supply: AirSupply,
    /// The protection expected of it in its use.
    pub protection_factor: u32,
}

/// The fit factor that a respirator's use asks for: ten times the protection expected of it, and 100 at least.
///
/// 29 CFR 1910.134(f)(6) and (7): 100 for half facepieces, and for full ones where less than ten times the exposure
/// limit is met; 500 for full facepieces elsewhere.
pub fn required_fit_factor(protection_factor: u32) -> u32 {
    protection_factor.saturating_mul(10).max(100)
}

/// What follows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Clearance {
    /// Cleared, held or not.
    pub state: ClearanceState,
    /// The attempt it stands on: the pass, the doubtful pass, or the fail that ended it.
    pub basis_attempt: Option<Uuid>,
    /// The local day of that attempt.
    pub tested_on: Option<NaiveDate>,
    /// The last covered day, by the rule set's reading.
    pub due_on: Option<NaiveDate>,
    /// The last covered day by the calendar.
    pub due_anniversary: Option<NaiveDate>,
    /// The last covered day by counting days.
    pub due_strict: Option<NaiveDate>,
    /// Since when it holds.
    pub valid_from: Option<DateTime<Utc>>,
    /// The first moment at which it no longer holds: due day, permission or leaving, whichever ends first.
    pub valid_until: Option<DateTime<Utc>>,
    /// Why not, when it is not `cleared`; in a fixed order.
    pub reasons: Vec<ClearanceReason>,
}

/// The clearance at the moment `at`, as known at the moment `known_at`.
///
/// The newest attempt that counts decides: a pass or a fail that happened by `at`, was stored by `known_at` and was
/// not taken away by a correction stored by then. A fail ends every older pass at once. A pass made with what is
/// stopped is in doubt and is passed over: an older pass behind it holds if it is still in date, and otherwise
/// the clearance is held. A fail is never in doubt, since a weak solution makes false passes and not false fails.
pub fn clearance(
    facts: &PersonRespiratorFacts,
    rules: &RuleSet,
    tz: Tz,
    at: DateTime<Utc>,
    known_at: DateTime<Utc>,
) -> Clearance {
    let moment = Moment { tz, at, known_at };
    let (basis, mut reasons) = moment.basis(facts, &rules.clearance);
    let dates = basis.map(|attempt| moment.due(attempt, &rules.clearance));
    let stands_for =
        |attempt: &AttemptResult| suffices(attempt.method, facts.supply, facts.protection_factor, rules);
    // Only a pass can stand for too little; who was never tested, or failed, is told that.
    if basis.is_some_and(|attempt| attempt.outcome == Outcome::Pass && !stands_for(attempt)) {
        reasons.push(ClearanceReason::MethodNotAllowed);
    }
    let permission = moment.permission(facts);
    if permission.is_none() {
        reasons.push(ClearanceReason::NoPermission);
    }
    let leaving_day =
        facts.leaving.filter(|leaving| leaving.recorded_at <= known_at).map(|leaving| leaving.last_day);
    if leaving_day.is_some_and(|last_day| end_of_day(last_day, tz) <= at) {
        reasons.push(ClearanceReason::PersonInactive);
    }
    reasons.sort_unstable();
    let doubtful =
        |reason: &ClearanceReason| matches!(reason, ClearanceReason::LotStopped | ClearanceReason::InDoubt);
    let state = match reasons.as_slice() {
        [] => ClearanceState::Cleared,
        held if held.iter().all(doubtful) => ClearanceState::Held,
        _ => ClearanceState::NotCleared,
    };
    let lasting = basis.zip(dates).filter(|_| state != ClearanceState::NotCleared);
    let span = lasting.map(|(attempt, (_, due))| moment.span(attempt, due.due_on, permission, leaving_day));
    Clearance {
        state,
        basis_attempt: basis.map(|attempt| attempt.id),
        tested_on: dates.map(|(tested_on, _)| tested_on),
        due_on: dates.map(|(_, due)| due.due_on),
        due_anniversary: dates.map(|(_, due)| due.anniversary),
        due_strict: dates.map(|(_, due)| due.strict_days),
        valid_from: span.map(|(from, _)| from),
        valid_until: span.map(|(_, until)| until),
        reasons,
    }
}

/// The two clocks of a question, and the zone its days are counted in.
struct Moment {
    tz: Tz,
    at: DateTime<Utc>,
    known_at: DateTime<Utc>,
}

impl Moment {
    /// The attempts that count, as known, the newest first.
    fn counting<'a>(&self, facts: &'a PersonRespiratorFacts) -> Vec<&'a AttemptResult> {
        let known = |moment: DateTime<Utc>| moment <= self.known_at;
        let counts = |attempt: &&AttemptResult| {
            attempt.outcome.counts()
                && attempt.ended_at <= self.at
                && known(attempt.recorded_at)
                && !attempt.corrected_recorded_at.is_some_and(known)
        };
        let mut attempts: Vec<_> = facts.attempts.iter().filter(counts).collect();
        // Of a pass and a fail in the same instant the fail counts as the newer one.
        attempts.sort_by_key(|attempt| {
            Reverse((attempt.ended_at, attempt.outcome == Outcome::Fail, attempt.recorded_at, attempt.id))
        });
        attempts
    }

    fn in_doubt(&self, attempt: &AttemptResult) -> bool {
        self.stops(attempt).next().is_some()
    }

    /// The stops in force, as known.
    fn stops<'a>(&self, attempt: &'a AttemptResult) -> impl Iterator<Item = &'a StopFact> {
        attempt.stops.iter().filter(|stop| {
            let released = stop.released_recorded_at.is_some_and(|released| released <= self.known_at);
            stop.recorded_at <= self.known_at && !released
        })
    }

    /// Why an attempt that is in doubt is.
    fn doubts(&self, attempt: &AttemptResult) -> Vec<ClearanceReason> {
        let word = |stop: &StopFact| {
            if stop.of_lot { ClearanceReason::LotStopped } else { ClearanceReason::InDoubt }
        };
        let words: BTreeSet<_> = self.stops(attempt).map(word).collect();
        words.into_iter().collect()
    }

    /// The attempt everything stands on, and what speaks against it.
    fn basis<'a>(
        &self,
        facts: &'a PersonRespiratorFacts,
        rules: &ClearanceRules,
    ) -> (Option<&'a AttemptResult>, Vec<ClearanceReason>) {
        let attempts = self.counting(facts);
        let Some(newest) = attempts.first().copied() else {
            return (None, vec![ClearanceReason::NeverTested]);
        };
        if newest.outcome == Outcome::Fail {
            return (Some(newest), vec![ClearanceReason::NewestIsFail]);
        }
        let in_date =
            |attempt: &AttemptResult| self.at < end_of_day(self.due(attempt, rules).1.due_on, self.tz);
        let passes = attempts.iter().copied().take_while(|attempt| attempt.outcome == Outcome::Pass);
        let undoubted = passes.into_iter().find(|attempt| !self.in_doubt(attempt));
        match undoubted {
            Some(pass) if in_date(pass) => (Some(pass), Vec::new()),
            _ if self.in_doubt(newest) && in_date(newest) => (Some(newest), self.doubts(newest)),
            _ if self.in_doubt(newest) => {
                let mut reasons = self.doubts(newest);
                reasons.push(ClearanceReason::Overdue);
                (Some(newest), reasons)
            }
            _ => (Some(newest), vec![ClearanceReason::Overdue]),
        }
    }

    /// The local day of the first dose, and the days by which the next test is due.
    fn due(&self, attempt: &AttemptResult, rules: &ClearanceRules) -> (NaiveDate, DueDates) {
        let tested_on = local_date(attempt.testing_started_at.unwrap_or(attempt.ended_at), self.tz);
        (tested_on, due_dates(tested_on, rules.interval, rules.due_reading))
    }

    /// The permission on the local day of the question, and its last day. Its first day says from when it counts, not
    /// the moment it was decided: a decision may take effect from an earlier day.
    fn permission<'a>(
        &self,
        facts: &'a PersonRespiratorFacts,
    ) -> Option<(&'a PermissionFact, Option<NaiveDate>)> {
        let known = || facts.permissions.iter().filter(|fact| fact.recorded_at <= self.known_at);
        let permission = governing(known(), local_date(self.at, self.tz))?;
        Some((permission, last_day(known(), permission)))
    }

    /// From when until when the clearance lasts if nothing new happens.
    fn span(
        &self,
        attempt: &AttemptResult,
        due_on: NaiveDate,
        permission: Option<(&PermissionFact, Option<NaiveDate>)>,
        leaving_day: Option<NaiveDate>,
    ) -> (DateTime<Utc>, DateTime<Utc>) {
        let permitted_from = permission.map(|(fact, _)| start_of_day(fact.valid_from, self.tz));
        let from = permitted_from.map_or(attempt.ended_at, |permitted| permitted.max(attempt.ended_at));
        let last_days = [Some(due_on), permission.and_then(|(_, last_day)| last_day), leaving_day];
        let last = last_days.into_iter().flatten().min().unwrap_or(due_on);
        (from, end_of_day(last, self.tz))
    }
}
