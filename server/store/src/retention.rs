//! How long scans and entries under a lead's name are kept, and the proof of what went.
//!
//! Scans go by their audit rows: every scan that the rows up to some number are about goes, in portions, each with a
//! row of its own in the chain. `sellion audit verify` then knows those rows as pruned, and finds a scan that should be
//! gone as well as one that is gone and should not be.

use std::{thread, time::Duration};

use anyhow::Context;
use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::{
    Actor, Store, StoreError, Tx,
    audit::digest_of_rows,
    schema::{
        audit_rows, lead_entries, lead_entry_reviews, scan_prunings, scans, sites, twin_notice_reviews,
        twin_notices,
    },
    site, write_on,
};

/// Audit rows that one portion takes in: short enough that no scan waits for it long.
const PORTION: i64 = 2_000;

/// How often a server looks for what is no longer kept.
const EVERY: Duration = Duration::from_secs(24 * 3600);
/// How soon it looks again where that went wrong.
const AGAIN: Duration = Duration::from_secs(600);

/// What went.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Pruned {
    /// Scans.
    pub scans: u64,
    /// The batches they were stored in.
    pub batches: u64,
    /// Entries under a lead's name, with what was found about them.
    pub lead_entries: u64,
    /// Pairs of readings, with what was found about them.
    pub twin_notices: u64,
}

/// How long a site keeps what; none where nobody has decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Queryable)]
pub struct Kept {
    /// Days for scans.
    pub scans_days: Option<i32>,
    /// Days for entries under a lead's name, pairs of readings, and what was found about either.
    pub lead_entries_days: Option<i32>,
}

/// What a site has decided.
pub fn kept(conn: &mut PgConnection, site_id: Uuid) -> Result<Kept, StoreError> {
    Ok(sites::table
        .find(site_id)
        .select((sites::scans_kept_days, sites::lead_entries_kept_days))
        .first(conn)?)
}

/// Deletes what a site no longer keeps.
///
/// Scans count from the day the server learned of them. An entry or a pair that nobody has looked at stays until
/// somebody has: an alarm does not end by itself.
pub fn prune(conn: &mut PgConnection, site_id: Uuid, now: DateTime<Utc>) -> Result<Pruned, StoreError> {
    let mut pruned = Pruned::default();
    let program = Actor::program(site_id);
    while let Some((scans, batches)) = write_on(conn, &program, "prune_scans", now, portion)? {
        pruned.scans += scans;
        pruned.batches += batches;
    }
    (pruned.lead_entries, pruned.twin_notices) =
        write_on(conn, &program, "prune_lead_entries", now, reviewed)?;
    Ok(pruned)
}

fn begin(tx: &mut Tx<'_>) -> Result<Kept, StoreError> {
    // Of several servers one prunes at a time; the next one finds nothing left.
    site::lock(tx)?;
    diesel::sql_query("select set_config('sellion.pruning', 'on', true)").execute(tx.conn)?;
    kept(tx.conn, tx.actor.site_id)
}

type ScanRow = (i64, DateTime<Utc>, Uuid, Option<Vec<u8>>);

/// Deletes the next portion of scans: how many, in how many batches.
fn portion(tx: &mut Tx<'_>) -> Result<Option<(u64, u64)>, StoreError> {
    let site_id = tx.site_id();
    let Some(days) = begin(tx)?.scans_days else { return Ok(None) };
    let cutoff = tx.now - TimeDelta::days(days.into());
    let after: i64 = through(tx.conn, site_id)?;
    let rows: Vec<ScanRow> = audit_rows::table
        .filter(audit_rows::site_id.eq(site_id))
        .filter(audit_rows::seq.gt(after))
        .filter(audit_rows::subject_table.eq("scans"))
        .order(audit_rows::seq)
        .limit(PORTION)
        .select((
            audit_rows::seq,
            audit_rows::recorded_at,
            audit_rows::subject_id,
            audit_rows::subject_digest,
        ))
        .load(tx.conn)?;
    let old: Vec<ScanRow> = rows.into_iter().take_while(|(_, at, _, _)| *at < cutoff).collect();
    let Some((through, ..)) = old.last() else { return Ok(None) };
    let batches: Vec<Uuid> = old.iter().map(|(_, _, batch, _)| *batch).collect();
    as_written(tx.conn, &old, &batches)?;
    let gone = diesel::delete(scans::table.filter(scans::batch_id.eq_any(&batches))).execute(tx.conn)?;
    let mut hasher = Sha256::new();
    old.iter().for_each(|(_, _, _, digest)| hasher.update(digest.as_deref().unwrap_or_default()));
    let id = Uuid::now_v7();
    let as_count = |number: usize| i64::try_from(number).unwrap_or(i64::MAX);
    diesel::insert_into(scan_prunings::table)
        .values((
            scan_prunings::id.eq(id),
            scan_prunings::site_id.eq(site_id),
            scan_prunings::after_seq.eq(after),
            scan_prunings::through_seq.eq(through),
            scan_prunings::kept_days.eq(days),
            scan_prunings::scans.eq(as_count(gone)),
            scan_prunings::batches.eq(as_count(batches.len())),
            scan_prunings::digest.eq(hasher.finalize().to_vec()),
            scan_prunings::recorded_at.eq(tx.now),
            scan_prunings::recorded_by.eq(tx.actor.id),
        ))
        .execute(tx.conn)?;
    tx.touched("scan_prunings", id);
    Ok(Some((gone as u64, batches.len() as u64)))
}

/// The number of the last audit row whose scans are gone.
pub(crate) fn through(conn: &mut PgConnection, site_id: Uuid) -> Result<i64, StoreError> {
    let last: Option<i64> = scan_prunings::table
        .filter(scan_prunings::site_id.eq(site_id))
        .select(diesel::dsl::max(scan_prunings::through_seq))
        .first(conn)?;
    Ok(last.unwrap_or_default())
}

/// Deleting must not hide that a scan was changed by hand.
fn as_written(conn: &mut PgConnection, old: &[ScanRow], batches: &[Uuid]) -> Result<(), StoreError> {
    let stored = digest_of_rows(conn, "scans", batches)?;
    match old.iter().find(|(_, _, batch, digest)| stored.get(batch) != digest.as_ref()) {
        None => Ok(()),
        Some((seq, ..)) => Err(StoreError::internal(format!(
            "the scans of audit row {seq} are not as they were written, so nothing was deleted: run `sellion audit verify`"
        ))),
    }
}

/// Deletes entries and pairs that somebody has looked at long ago.
fn reviewed(tx: &mut Tx<'_>) -> Result<(u64, u64), StoreError> {
    let site_id = tx.site_id();
    let Some(days) = begin(tx)?.lead_entries_days else { return Ok((0, 0)) };
    let cutoff = tx.now - TimeDelta::days(days.into());
    let entries: Vec<(Uuid, Uuid)> = lead_entries::table
        .inner_join(lead_entry_reviews::table)
        .filter(lead_entries::site_id.eq(site_id))
        .filter(lead_entries::happened_at.lt(cutoff))
        .select((lead_entries::id, lead_entry_reviews::id))
        .load(tx.conn)?;
    let (ids, reviews): (Vec<Uuid>, Vec<Uuid>) = entries.into_iter().unzip();
    diesel::delete(lead_entry_reviews::table.filter(lead_entry_reviews::id.eq_any(&reviews)))
        .execute(tx.conn)?;
    diesel::delete(lead_entries::table.filter(lead_entries::id.eq_any(&ids))).execute(tx.conn)?;
    reviews.iter().for_each(|id| tx.touched("lead_entry_reviews", *id));
    ids.iter().for_each(|id| tx.touched("lead_entries", *id));
    let pairs: Vec<(Uuid, Uuid)> = twin_notices::table
        .inner_join(twin_notice_reviews::table)
        .filter(twin_notices::site_id.eq(site_id))
        .filter(twin_notices::recorded_at.lt(cutoff))
        .select((twin_notices::id, twin_notice_reviews::id))
        .load(tx.conn)?;
    let (notices, reviews): (Vec<Uuid>, Vec<Uuid>) = pairs.into_iter().unzip();
    diesel::delete(twin_notice_reviews::table.filter(twin_notice_reviews::id.eq_any(&reviews)))
        .execute(tx.conn)?;
    diesel::delete(twin_notices::table.filter(twin_notices::id.eq_any(&notices))).execute(tx.conn)?;
    reviews.iter().for_each(|id| tx.touched("twin_notice_reviews", *id));
    notices.iter().for_each(|id| tx.touched("twin_notices", *id));
    Ok((ids.len() as u64, notices.len() as u64))
}

/// Prunes every site now and once a day from now on, on a thread of its own that ends with the program.
///
/// Every server does so: whichever comes first leaves nothing for the others.
pub fn daily(store: &Store, now: impl Fn() -> DateTime<Utc> + Send + 'static) -> anyhow::Result<()> {
    let store = store.clone();
    let work = move || {
        loop {
            let wait = match every_site(&store, now()) {
                Ok(()) => EVERY,
                Err(error) => {
                    tracing::warn!(%error, "what is no longer kept could not be deleted: tried again later");
                    AGAIN
                }
            };
            thread::sleep(wait);
        }
    };
    thread::Builder::new()
        .name("retention".to_owned())
        .spawn(work)
        .context("a thread for retention could not be started")?;
    Ok(())
}

fn every_site(store: &Store, now: DateTime<Utc>) -> Result<(), StoreError> {
    let mut conn = store.connection()?;
    for site in site::all(&mut conn)? {
        let pruned = prune(&mut conn, site.id, now)?;
        if pruned != Pruned::default() {
            let Pruned { scans, lead_entries, twin_notices, .. } = pruned;
            tracing::info!(site = %site.id, scans, lead_entries, twin_notices, "deleted what is no longer kept");
        }
    }
    Ok(())
}
