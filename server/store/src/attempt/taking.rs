//! Taking events one by one, also where something found on the nebulizer has ended the attempt meanwhile.
//!
//! A station out of reach goes on, because it cannot know. What it did before the finding is taken as usual; what it did
//! after it is kept beside the attempt and is no part of its verdict.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    attempt::{AttemptEvent, AttemptEventKind, Phase, State},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{Attempt, first_dose, read_event, state_of};
use crate::{
    StoreError, Tx, equipment,
    schema::{attempt_events, attempt_late_events},
    stored::{count, read_count, to_json},
};

/// An attempt while events are added to it.
pub(super) struct Taking {
    /// What its events say.
    pub(super) state: State,
    /// How many of them were stored before.
    pub(super) stored: usize,
    /// Whether it had ended before.
    pub(super) ended_before: bool,
    /// The number of the event by which a finding ended it, if one did.
    pub(super) checked: Option<u32>,
    /// What comes after that, as far as it is not kept yet.
    pub(super) late: Vec<AttemptEvent>,
    kept: Vec<AttemptEvent>,
    spoilt_at: Option<DateTime<Utc>>,
}

impl Taking {
    /// An attempt as it is stored.
    pub(super) fn of(tx: &mut Tx<'_>, attempt: &Attempt) -> Result<Self, StoreError> {
        let state = state_of(tx.conn, attempt)?;
        let checked: Option<i32> = attempt_events::table
            .filter(attempt_events::attempt_id.eq(attempt.id))
            .filter(attempt_events::told_by.is_not_null())
            .select(attempt_events::seq)
            .first(tx.conn)
            .optional()?;
        let spoilt_at = match attempt.fill_id.filter(|_| attempt.tastes() && state.verdict().is_none()) {
            Some(fill_id) => equipment::out_since(tx.conn, fill_id, attempt.happened_at)?,
            None => None,
        };
        let checked = checked.map(read_count).transpose()?;
        let kept = if checked.is_some() { late_events(tx.conn, attempt.id)? } else { Vec::new() };
        Ok(Self { checked, kept, spoilt_at, ..Self::begun(state) })
    }

    /// An attempt whose nebulizer was found out of order just now.
    pub(super) fn spoilt(state: State, found_at: DateTime<Utc>) -> Self {
        Self { spoilt_at: Some(found_at), ..Self::begun(state) }
    }

    fn begun(state: State) -> Self {
        Self {
            stored: state.events().len(),
            ended_before: state.verdict().is_some(),
            checked: None,
            late: Vec::new(),
            kept: Vec::new(),
            spoilt_at: None,
            state,
        }
    }

    /// One event, and the number of the one that has ended the run, if one has.
    pub(super) fn take(
        &mut self,
        tx: &mut Tx<'_>,
        attempt: &Attempt,
        event: &AttemptEvent,
    ) -> Result<Option<u32>, StoreError> {
        if event.seq == self.next_seq() {
            self.end_where_spoilt(event.happened_at)?;
        }
        if self.checked.is_some_and(|seq| event.seq >= seq) {
            self.keep(event)?;
            return Ok(self.state.ended_by());
        }
        let was_fitting = self.state.phase() == Phase::Fitting;
        self.state.apply(event)?;
        // A beginning that is a fail at once, by its peak, is a beginning too.
        let begun = self.state.verdict().is_some_and(|verdict| verdict.started_testing_at.is_some());
        if was_fitting && (begun || self.state.phase() == Phase::Testing) {
            first_dose::check(tx, attempt, event.happened_at)?;
        }
        self.end_where_spoilt(event.happened_at)?;
        Ok(self.state.ended_by())
    }

    fn next_seq(&self) -> u32 {
        self.state.events().last().map_or(0, |event| event.seq).saturating_add(1)
    }

    /// Ends it by what was found on its nebulizer, where it is in its doses and that was found by `at`.
    pub(super) fn end_where_spoilt(&mut self, at: DateTime<Utc>) -> Result<(), StoreError> {
        let Some(found_at) = self.spoilt_at.filter(|found_at| *found_at <= at) else { return Ok(()) };
        if !matches!(self.state.phase(), Phase::Testing | Phase::Closing) {
            return Ok(());
        }
        let last = self.state.events().last().map_or(found_at, |event| event.happened_at);
        let event = AttemptEvent {
            seq: self.next_seq(),
            happened_at: last.max(found_at),
            kind: AttemptEventKind::NebulizerChecked { clear: false },
        };
        self.state.apply(&event)?;
        self.checked = Some(event.seq);
        Ok(())
    }

    /// Keeps an event that came after the finding: in order, and each once. The station numbers go on from the one that
    /// the finding took.
    fn keep(&mut self, event: &AttemptEvent) -> Result<(), StoreError> {
        let is_the_end = |stored: &AttemptEvent| Some(stored.seq) == self.checked && stored == event;
        if self.state.events().iter().any(is_the_end) {
            return Ok(());
        }
        let known = self.kept.iter().chain(&self.late);
        let last = known.clone().map(|kept| kept.seq).max();
        if let Some(same) = known.clone().find(|kept| kept.seq == event.seq) {
            if same == event {
                return Ok(());
            }
            let sentence = "Another event is kept under this number: read the attempt again.";
            return Err(Refusal::new(Code::EventConflict, sentence).into());
        }
        let expected = last.map_or(self.checked.unwrap_or_default(), |last| last.saturating_add(1));
        if event.seq != expected {
            let sentence = format!("Send event {expected} first.");
            let refusal = Refusal::new(Code::EventOutOfOrder, sentence);
            return Err(refusal.fact("expected_seq", expected).into());
        }
        self.late.push(event.clone());
        Ok(())
    }
}

/// Stores what came after the finding that ended the attempt.
pub(super) fn keep_late(tx: &mut Tx<'_>, id: Uuid, taken: &Taking) -> Result<(), StoreError> {
    let (Some(first), Some(last)) = (taken.late.first(), taken.late.last()) else { return Ok(()) };
    let rows = taken.late.iter().map(|event| {
        Ok((
            attempt_late_events::attempt_id.eq(id),
            attempt_late_events::seq.eq(count(event.seq)?),
            attempt_late_events::event.eq(to_json(&event.kind)?),
            attempt_late_events::happened_at.eq(event.happened_at),
            attempt_late_events::recorded_at.eq(tx.now),
            attempt_late_events::recorded_by.eq(tx.actor.id),
        ))
    });
    let rows = rows.collect::<Result<Vec<_>, StoreError>>()?;
    diesel::insert_into(attempt_late_events::table).values(rows).execute(tx.conn)?;
    tx.touched_events("attempt_late_events", id, count(first.seq)?, count(last.seq)?);
    Ok(())
}

/// What a station did after a finding had ended the attempt, in order.
pub(super) fn late_events(conn: &mut PgConnection, id: Uuid) -> Result<Vec<AttemptEvent>, StoreError> {
    let rows = attempt_late_events::table
        .filter(attempt_late_events::attempt_id.eq(id))
        .order(attempt_late_events::seq)
        .select((attempt_late_events::seq, attempt_late_events::happened_at, attempt_late_events::event))
        .load(conn)?;
    rows.into_iter().map(read_event).collect()
}
