//! The beginning of the testing, with a taste agent the first dose: what was right at the opening has to be right still.

use chrono::{DateTime, Utc};
use sellion_rules::{
    dates::local_date,
    ladder::{FirstDoseFacts, may_give_first_dose},
    refusal::Refusal,
};

use super::Attempt;
use crate::{StoreError, Tx, fill, ladder, rule_set, site, visit};

/// Refuses to begin at `at` with somebody who has eaten before a taste, has hair at the seal, is unwell or lost their permission
/// since the attempt was opened, and out of a fill that went out of use. A run that has begun may end.
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
    let mut filled = fill::find(tx.conn, attempt.site_id, fill_id)?;
    // A stop ends the run by itself, from the moment it is known; a dose given before that is told late and counts.
    filled.supply.stopped = false;
    filled.usable(&rules, at, zone).map(drop).map_err(begin_again)
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
