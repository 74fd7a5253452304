//! Scans: each reading of a badge at a gate, stored with its answer before the answer is given.
//!
//! Scans that wait at the same moment are decided and stored together, in one transaction with one row
//! of the audit chain for each device: see [`Desk`].

mod batch;
pub mod comparison;
mod desk;
mod facts;
mod given;
mod insert;
mod versions;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::gate::{Answer, NotOurs, ScanReason};
use uuid::Uuid;

use crate::{Actor, StoreError, gate, schema::scans};

pub use desk::Desk;

/// What was read, as far as the processor alone can tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reading {
    /// A serial, from a code whose signature holds or typed by hand.
    Serial(String),
    /// No badge of ours.
    NotOurs(NotOurs),
}

/// A scan to be answered and stored.
#[derive(Debug, Clone)]
pub struct NewScan {
    /// Its id.
    pub id: Uuid,
    /// Who scans, and at which site.
    pub actor: Actor,
    /// At which gate.
    pub gate_id: Uuid,
    /// What was read.
    pub reading: Reading,
    /// SHA-256 of the text that was read.
    pub code_digest: Vec<u8>,
    /// Whether a serial was typed.
    pub typed: bool,
    /// When the badge was read.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
    /// What the gate answered by itself, when it did.
    pub given: Option<Given>,
}

/// The answer that a gate gave alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Given {
    /// The word that was shown.
    pub answer: Answer,
    /// When its knowledge was last known to be current; none where it had none.
    pub known_at: Option<DateTime<Utc>>,
    /// What its clock showed.
    pub clock_showed: DateTime<Utc>,
}

/// The answer, for the gate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answered {
    /// The scan.
    pub id: Uuid,
    /// The word.
    pub answer: Answer,
    /// What to do.
    pub instruction: String,
    /// The name on the badge, when it is one of ours.
    pub name: Option<String>,
    /// The respirator the person may go in with, in words.
    pub respirator: Option<String>,
}

/// A scan as stored, with its reason, for those entitled to it.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = scans, check_for_backend(diesel::pg::Pg))]
pub struct Scan {
    /// Its id.
    pub id: Uuid,
    /// The badge, when it was one of ours.
    pub badge_id: Option<Uuid>,
    /// The respirator the answer rests on.
    pub respirator_id: Option<Uuid>,
    /// The policy that was in force.
    pub gate_policy_id: Option<Uuid>,
    /// Whether a serial was typed.
    pub typed: bool,
    /// The word.
    pub answer: String,
    /// Why.
    pub reason: String,
    /// When the badge was read.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
    /// The device or user that scanned.
    pub recorded_by: Uuid,
}

/// The scans at a gate by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    gate_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Scan>, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    Ok(scans::table
        .filter(scans::site_id.eq(site_id))
        .filter(scans::gate_id.eq(gate_id))
        .filter(scans::id.gt(after))
        .order(scans::id)
        .limit(limit)
        .select(Scan::as_select())
        .load(conn)?)
}

/// The stored word of a reason, read back.
fn reason(word: &str) -> Result<ScanReason, StoreError> {
    word.parse().map_err(|_| StoreError::internal(format!("a scan has the reason {word:?}")))
}
