//! Hoods: whether one is ready for the next person.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    equipment::{EquipmentKind, EquipmentState, FindingFact, HoodUse, hood_state, must_be_ready},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use super::{Equipment, find, findings, lock};
use crate::{
    StoreError, Tx,
    schema::{attempt_verdicts, attempts, screening_verdicts, screenings},
    stop::{self, Used},
};

type Use = (DateTime<Utc>, Option<DateTime<Utc>>);

/// The state of a hood at `at`, for somebody on this visit or, with none, for whoever comes next.
pub(super) fn state(
    conn: &mut PgConnection,
    hood: &Equipment,
    findings: &[FindingFact],
    visit_id: Option<Uuid>,
    at: DateTime<Utc>,
) -> Result<(EquipmentState, Option<DateTime<Utc>>), StoreError> {
    let used = last_use(conn, hood.id, visit_id)?;
    Ok(hood_state(findings, used, hood.contact_seconds()?, at))
}

/// The newest run under the hood by somebody else.
fn last_use(
    conn: &mut PgConnection,
    hood_id: Uuid,
    visit_id: Option<Uuid>,
) -> Result<Option<HoodUse>, StoreError> {
    let visit_id = visit_id.unwrap_or_default();
    let tested: Option<Use> = attempts::table
        .left_join(attempt_verdicts::table)
        .filter(attempts::hood_id.eq(hood_id))
        .filter(attempts::visit_id.ne(visit_id))
        .order((attempts::happened_at.desc(), attempts::id.desc()))
        .select((attempts::happened_at, attempt_verdicts::ended_at.nullable()))
        .first(conn)
        .optional()?;
    let screened: Option<Use> = screenings::table
        .left_join(screening_verdicts::table)
        .filter(screenings::hood_id.eq(hood_id))
        .filter(screenings::visit_id.ne(visit_id))
        .order((screenings::happened_at.desc(), screenings::id.desc()))
        .select((screenings::happened_at, screening_verdicts::ended_at.nullable()))
        .first(conn)
        .optional()?;
    let newest = [tested, screened].into_iter().flatten().max_by_key(|(began_at, _)| *began_at);
    Ok(newest.map(|(began_at, ended_at)| HoodUse { began_at, ended_at }))
}

/// Refuses a hood that is not ready for the person of this visit. Where none is named, nothing is refused.
pub(crate) fn usable_hood(
    tx: &mut Tx<'_>,
    hood_id: Option<Uuid>,
    visit_id: Uuid,
    (at, in_reach): (DateTime<Utc>, bool),
) -> Result<(), StoreError> {
    let Some(hood_id) = hood_id else { return Ok(()) };
    // Nobody else takes it at the same moment.
    lock(tx, hood_id)?;
    let hood = find(tx.conn, tx.actor.site_id, hood_id)?;
    if hood.kind()? != EquipmentKind::Hood {
        let sentence = "This is no hood: name the one that is used.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("hood_id").into());
    }
    if in_reach {
        stop::refuse_stopped(tx.conn, tx.actor.site_id, Used::Equipment(hood_id), at)?;
    }
    let findings = findings(tx.conn, hood_id)?;
    let state = state(tx.conn, &hood, &findings, Some(visit_id), at)?;
    Ok(must_be_ready((EquipmentKind::Hood, &hood.label), state, at)?)
}
