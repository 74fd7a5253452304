//! What gates answered alone, beside what the server would have said: as known at that moment, and as known now.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::unclaimed_from,
    gate::{Answer, BadgeFacts, BadgeStatus, ClearanceFact, ScanReason, answer},
    policy::{Listed, PolicyVersion, in_force},
};
use uuid::Uuid;

use super::reason;
use crate::{
    StoreError,
    badge::REPLACED,
    clearance::{self, Moments, RespiratorClearance},
    gate, policy,
    schema::{
        badge_endings, badge_hand_overs, badge_hold_releases, badge_holds, badges, given_answers, scans,
    },
    stored::word,
    unclaimed,
};

/// What the server would have said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Said {
    /// The word.
    pub answer: Answer,
    /// Why.
    pub reason: ScanReason,
}

/// One scan that a gate answered alone.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The scan.
    pub scan_id: Uuid,
    /// The badge, when it was one of ours.
    pub badge_id: Option<Uuid>,
    /// When the badge was read.
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    pub recorded_at: DateTime<Utc>,
    /// When the gate's knowledge was last known to be current.
    pub known_at: Option<DateTime<Utc>>,
    /// What the gate's clock showed.
    pub clock_showed: DateTime<Utc>,
    /// What was shown at the gate.
    pub given: Answer,
    /// What the server would have said at that moment.
    pub then: Said,
    /// What it says of that moment now.
    pub now: Said,
}

#[derive(Queryable)]
struct Row {
    scan_id: Uuid,
    badge_id: Option<Uuid>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    known_at: Option<DateTime<Utc>>,
    clock_showed: DateTime<Utc>,
    answer: String,
    reason: String,
}

/// The scans that a gate answered alone, by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    now: DateTime<Utc>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Comparison>, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    let rows: Vec<Row> = given_answers::table
        .inner_join(scans::table)
        .filter(scans::site_id.eq(site_id))
        .filter(scans::gate_id.eq(gate_id))
        .filter(scans::id.gt(after))
        .order(scans::id)
        .limit(limit)
        .select((
            scans::id,
            scans::badge_id,
            scans::happened_at,
            scans::recorded_at,
            given_answers::known_at,
            given_answers::clock_showed,
            scans::answer,
            scans::reason,
        ))
        .load(conn)?;
    let versions = policy::of_gate(conn, gate_id, now)?;
    rows.into_iter()
        .map(|row| {
            let at = row.happened_at;
            let asked = Asked { site_id, versions: &versions };
            Ok(Comparison {
                then: asked.said(conn, &row, Moments { at, known_at: at })?,
                now: asked.said(conn, &row, Moments { at, known_at: now })?,
                scan_id: row.scan_id,
                badge_id: row.badge_id,
                happened_at: row.happened_at,
                recorded_at: row.recorded_at,
                known_at: row.known_at,
                clock_showed: row.clock_showed,
                given: word(&row.answer)?,
            })
        })
        .collect()
}

struct Asked<'a> {
    site_id: Uuid,
    versions: &'a [PolicyVersion],
}

impl Asked<'_> {
    fn said(&self, conn: &mut PgConnection, row: &Row, moments: Moments) -> Result<Said, StoreError> {
        let Some(badge_id) = row.badge_id else {
            // No badge of ours, and no later fact makes it one.
            let reason = reason(&row.reason)?;
            return Ok(Said { answer: reason.answer(), reason });
        };
        let (person_id, badge) = badge_then(conn, badge_id, moments)?;
        let known: Vec<PolicyVersion> =
            self.versions.iter().filter(|version| version.recorded_at <= moments.known_at).cloned().collect();
        let listed: Vec<Listed> = policy::listed(conn, self.site_id, moments.known_at)?;
        let policy = in_force(&known, moments.at).and_then(|version| version.at(moments.at, &listed));
        let found = clearance::of_person(conn, self.site_id, person_id, moments)?;
        let clearances: Vec<ClearanceFact> = found.into_iter().map(fact).collect();
        let decision = answer(&badge, &clearances, policy.as_ref(), 0, moments.at);
        Ok(Said { answer: decision.answer, reason: decision.reason })
    }
}

fn fact(found: RespiratorClearance) -> ClearanceFact {
    let RespiratorClearance { respirator_id, clearance } = found;
    ClearanceFact {
        respirator: respirator_id,
        state: clearance.state,
        valid_from: clearance.valid_from,
        valid_until: clearance.valid_until,
    }
}

/// Whose badge it is, and what was known of it. A badge counts from the moment it was issued: its reader saw it.
fn badge_then(
    conn: &mut PgConnection,
    badge_id: Uuid,
    Moments { at, known_at }: Moments,
) -> Result<(Uuid, BadgeFacts), StoreError> {
    let (site_id, person_id, expires_at, made_at): (Uuid, Uuid, DateTime<Utc>, DateTime<Utc>) = badges::table
        .find(badge_id)
        .select((badges::site_id, badges::person_id, badges::expires_at, badges::recorded_at))
        .first(conn)?;
    let ending: Option<String> = badge_endings::table
        .filter(badge_endings::badge_id.eq(badge_id))
        .filter(badge_endings::recorded_at.le(known_at))
        .filter(badge_endings::happened_at.le(at))
        .select(badge_endings::reason)
        .first(conn)
        .optional()?;
    let released = badge_hold_releases::table
        .filter(badge_hold_releases::badge_hold_id.eq(badge_holds::id))
        .filter(badge_hold_releases::recorded_at.le(known_at))
        .filter(badge_hold_releases::happened_at.le(at));
    let held: bool = diesel::select(diesel::dsl::exists(
        badge_holds::table
            .filter(badge_holds::badge_id.eq(badge_id))
            .filter(badge_holds::recorded_at.le(known_at))
            .filter(badge_holds::happened_at.le(at))
            .filter(diesel::dsl::not(diesel::dsl::exists(released))),
    ))
    .get_result(conn)?;
    let handed_over: bool = diesel::select(diesel::dsl::exists(
        badge_hand_overs::table
            .filter(badge_hand_overs::badge_id.eq(badge_id))
            .filter(badge_hand_overs::recorded_at.le(known_at)),
    ))
    .get_result(conn)?;
    let rule = unclaimed::rule(conn, site_id)?;
    let closed = rule.closed_at.is_some_and(|since| since <= known_at);
    let unclaimed = closed && !handed_over && unclaimed_from(made_at, rule.after_days) <= at;
    let status = match ending.as_deref() {
        Some(REPLACED) => BadgeStatus::Replaced,
        Some(_) => BadgeStatus::Ended,
        None if held => BadgeStatus::Held,
        None if unclaimed => BadgeStatus::Unclaimed,
        None => BadgeStatus::Valid,
    };
    Ok((person_id, BadgeFacts::Known { status, expires_at }))
}
