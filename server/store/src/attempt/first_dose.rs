//! The beginning of the testing, with a taste agent the first dose: what was right at the opening has to be right still.

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::{
    dates::local_date,
    ladder::{FirstDoseFacts, may_give_first_dose},
    refusal::Refusal,
};

use super::Attempt;
use crate::{StoreError, Tx, equipment, fill, ladder, rule_set, run, site, visit};

/// Whatever is told later than this after it happened was done by a station that may have been out of reach.
const TOLD_AT_ONCE_SECONDS: i64 = 120;

/// Refuses to begin at `at` with somebody who has eaten before a taste, has hair at the seal, is unwell or lost their permission
/// since the attempt was opened, and out of a fill that went out of use. A run that has begun may end.
///
/// A stop, and what was found on the nebulizer, are reasons where the beginning is told at once. One that is told late
/// has happened: the stop holds what comes of it, and the finding makes it void.
pub(super) fn check(tx: &mut Tx<'_>, attempt: &Attempt, at: DateTime<Utc>) -> Result<(), StoreError> {
    let (name, version) = (&attempt.rule_set_name, &attempt.rule_set_version);
    let rules = rule_set::named(tx.conn, attempt.site_id, name, version)?;
    let zone = site::zone(tx.conn, attempt.site_id)?;
    let answers = visit::newest_answers_by(tx.conn, attempt.site_id, attempt.visit_id, at)?;
    let mut permissions = ladder::permissions_of(tx.conn, attempt.site_id, &[attempt.person_id])?;
    let facts = FirstDoseFacts {
        on: local_date(at, zone),
        permissions: permissions.remove(&attempt.person_id).unwrap_or_default(),
        hair_at_seal: answers.hair_at_seal,
        feels_well: answers.feels_well,
        last_intake_at: answers.last_intake_at.filter(|_| attempt.tastes()),
    };
    may_give_first_dose(&facts, &rules, at)?;
    let Some(fill_id) = attempt.fill_id else { return Ok(()) };
    let filled = fill::find(tx.conn, attempt.site_id, fill_id)?;
    let in_reach = tx.now - at <= TimeDelta::seconds(TOLD_AT_ONCE_SECONDS);
    filled.usable_then(tx.conn, (&rules, zone), at, in_reach).map_err(begin_again)?;
    if in_reach {
        run::refuse_stopped_fill(tx, &filled.fill, at).map_err(begin_again)?;
        if attempt.tastes() {
            equipment::must_spray(tx.conn, attempt.site_id, &filled.fill.nebulizer, at)
                .map_err(begin_again)?;
        }
    }
    Ok(())
}

/// An attempt keeps the fill it was opened with, so a fill that went out of use meanwhile needs a new attempt.
fn begin_again(error: StoreError) -> StoreError {
    match error {
        StoreError::Refused(refusal) => {
            let detail =
                format!("{} Then end this attempt as interrupted and open a new one.", refusal.detail);
            Refusal { detail, ..refusal }.into()
        }
        other => other,
    }
}
