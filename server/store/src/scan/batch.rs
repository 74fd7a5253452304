//! One batch of scans: decided, stored and chained in one transaction.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{Connection, PgConnection, prelude::*};
use sellion_rules::{
    gate::{
        BadgeFacts, BadgeStatus, ClearanceFact, GateDecision, NotOurs, ScanReason, answer, with_name_check,
    },
    policy::{Listed, PolicyVersion},
    refusal::{Code, Refusal},
    roles::Operation,
};
use uuid::Uuid;

use super::{
    Answered, NewScan, Reading,
    facts::{self, Facts},
    given,
    hold::hold,
    insert::{self, Decided},
    near::BatchReadings,
    reason,
    versions::Versions,
};
use crate::{
    Actor, ActorKind, StoreError,
    audit::{self, Entry, Subject},
    badge::REPLACED,
    insert::id_reused,
    person::whole_name,
    schema::{badges, people, respirators, scans},
    stream,
    twin_notice::{self, Found},
};

/// Answers and stores a batch. An outer error means that nothing of it was stored; an inner one is of one scan.
pub(super) fn store(
    conn: &mut PgConnection,
    versions: &mut Versions,
    batch: &[NewScan],
) -> Result<Vec<Result<Answered, StoreError>>, StoreError> {
    conn.transaction(|conn| {
        hold(conn, batch)?;
        let facts = facts::load(conn, batch)?;
        versions.meet(conn, facts.iter().filter_map(|facts| facts.policy_id))?;
        let batch_ids = batch_ids(batch);
        let mut decided = Vec::with_capacity(batch.len());
        let mut answers = HashMap::with_capacity(batch.len());
        let mut refused = HashMap::new();
        let mut readings = BatchReadings::default();
        for (place, (scan, facts)) in batch.iter().zip(&facts).enumerate() {
            match decide(scan, facts, versions.of(facts)) {
                Ok(GateDecision { reason, respirator, instruction, .. }) => {
                    let mut near = readings.near(scan, facts);
                    let answered = match &scan.given {
                        Some(given) => {
                            // Nobody was asked for the name: what the gate showed was its own answer.
                            near.twin_gate = None;
                            given::kept(scan.id, given)
                        }
                        None => {
                            let told = told(instruction, near.twin_gate);
                            answered(scan.id, reason, told, facts, respirator)
                        }
                    };
                    decided.push(Decided {
                        answer: answered.answer,
                        scan,
                        place,
                        batch_id: batch_ids[&actor_of(scan)],
                        badge_id: facts.badge_id,
                        respirator_id: respirator,
                        policy_id: facts.policy_id,
                        reason,
                        near,
                    });
                    answers.insert(place, answered);
                }
                Err(refusal) => {
                    refused.insert(place, refusal);
                }
            }
        }
        let new: HashSet<Uuid> = insert::insert(conn, &decided)?.into_iter().collect();
        given::insert(conn, &decided, &new)?;
        let notices = notices(conn, &decided, &new)?;
        chain(conn, &decided, &new, notices)?;
        let mut before = stored_before(conn, versions, &decided, &new)?;
        // Of two deliveries of one scan in the same batch, both are told what was stored.
        Ok(batch
            .iter()
            .enumerate()
            .map(|(place, scan)| {
                if let Some(refusal) = refused.remove(&place) {
                    return Err(refusal.into());
                }
                match before.remove(&place) {
                    Some(stored) => stored,
                    None => answers
                        .remove(&place)
                        .ok_or_else(|| StoreError::internal(format!("scan {} has no answer", scan.id))),
                }
            })
            .collect())
    })
}

type ActorKey = (Uuid, &'static str, Uuid);

fn actor_of(scan: &NewScan) -> ActorKey {
    (scan.actor.site_id, scan.actor.kind.as_str(), scan.actor.id)
}

/// One id for each device and site: what the audit chain calls the batch.
fn batch_ids(batch: &[NewScan]) -> HashMap<ActorKey, Uuid> {
    let mut ids = HashMap::new();
    for scan in batch {
        ids.entry(actor_of(scan)).or_insert_with(Uuid::now_v7);
    }
    ids
}

/// The answer and the respirator it rests on, by the rules and nothing else.
fn decide(scan: &NewScan, facts: &Facts, version: Option<&PolicyVersion>) -> Result<GateDecision, Refusal> {
    if !facts.entitled {
        return Err(Refusal::new(Code::SessionEnded, "This sign-in has ended: sign in again."));
    }
    if !facts.gate_known {
        return Err(Refusal::new(Code::NotFound, "There is no such gate here."));
    }
    let badge = badge_facts(scan, facts);
    let (listed, clearances) = (listed(facts), clearance_facts(facts));
    let policy = version.and_then(|version| version.at(scan.happened_at, &listed));
    // The server answers from what is stored now, so its knowledge has no age.
    Ok(answer(&badge, &clearances, policy.as_ref(), 0, scan.happened_at))
}

fn badge_facts(scan: &NewScan, facts: &Facts) -> BadgeFacts {
    match (&scan.reading, facts.expires_at) {
        (Reading::NotOurs(why), _) => BadgeFacts::NotOurs(*why),
        (Reading::Serial(_), None) => BadgeFacts::NotOurs(NotOurs::UnknownBadge),
        (Reading::Serial(_), Some(expires_at)) => {
            let status = match facts.ending.as_deref() {
                Some(REPLACED) => BadgeStatus::Replaced,
                Some(_) => BadgeStatus::Ended,
                None if facts.held => BadgeStatus::Held,
                None if facts.unclaimed_from.is_some_and(|from| from <= scan.happened_at) => {
                    BadgeStatus::Unclaimed
                }
                None => BadgeStatus::Valid,
            };
            BadgeFacts::Known { status, expires_at }
        }
    }
}

/// The respirators on which the person has a result: no other could be among those accepted and count.
fn listed(facts: &Facts) -> Vec<Listed> {
    let classes = facts.facepieces.iter().zip(&facts.filter_classes).zip(&facts.retired_at);
    let rows = facts.respirators.iter().zip(classes);
    rows.filter_map(|(respirator, ((facepiece, filter_class), retired_at))| {
        Some(Listed {
            respirator: *respirator,
            facepiece: facepiece.parse().ok()?,
            filter_class: filter_class.clone(),
            retired_at: *retired_at,
        })
    })
    .collect()
}

fn clearance_facts(facts: &Facts) -> Vec<ClearanceFact> {
    let spans = facts.valid_from.iter().zip(&facts.valid_until);
    let rows = facts.respirators.iter().zip(&facts.states).zip(spans);
    rows.filter_map(|((respirator, state), (valid_from, valid_until))| {
        // A state that is not known clears nobody.
        let state = state.parse().ok()?;
        Some(ClearanceFact {
            respirator: *respirator,
            state,
            valid_from: *valid_from,
            valid_until: *valid_until,
        })
    })
    .collect()
}

fn answered(
    id: Uuid,
    reason: ScanReason,
    (instruction, check_name): (String, bool),
    facts: &Facts,
    respirator: Option<Uuid>,
) -> Answered {
    let place = facts.respirators.iter().position(|tested| Some(*tested) == respirator);
    let name = facts.given_name.as_ref().zip(facts.family_name.as_ref());
    Answered {
        id,
        answer: reason.answer(),
        instruction,
        name: name.map(|(given, family)| whole_name(given, family)),
        respirator: place.and_then(|place| facts.names.get(place).cloned()),
        check_name,
    }
}

/// What the guard is told, and whether the name comes first.
fn told(instruction: String, twin_gate: Option<Uuid>) -> (String, bool) {
    match twin_gate {
        None => (instruction, false),
        Some(_) => (with_name_check(&instruction), true),
    }
}

/// A pair of readings that was kept, and the scan that made it known.
struct Notice<'d> {
    id: Uuid,
    actor: &'d Actor,
}

/// Keeps the pairs that new scans are one half of.
fn notices<'d>(
    conn: &mut PgConnection,
    decided: &'d [Decided<'_>],
    new: &HashSet<Uuid>,
) -> Result<Vec<Notice<'d>>, StoreError> {
    let mut seen = HashSet::new();
    let mut rows = Vec::new();
    let mut found = Vec::new();
    for row in decided.iter().filter(|row| new.contains(&row.scan.id) && seen.insert(row.scan.id)) {
        let Some((badge_id, pair)) = row.badge_id.zip(row.near.pair) else { continue };
        let actor = &row.scan.actor;
        found.push(Found {
            site_id: actor.site_id,
            badge_id,
            pair,
            recorded_at: row.scan.recorded_at,
            recorded_by: actor.id,
        });
        rows.push(actor);
    }
    if found.is_empty() {
        return Ok(Vec::new());
    }
    let ids = twin_notice::store(conn, &found)?;
    Ok(ids.into_iter().zip(rows).filter_map(|(id, actor)| Some(Notice { id: id?, actor })).collect())
}

fn entry(actor: &Actor, subject: Subject) -> Entry {
    Entry {
        actor_kind: actor.kind,
        actor_id: if actor.kind == ActorKind::Program { Uuid::nil() } else { actor.id },
        subject,
    }
}

/// One row of the audit chain for each device, with a digest over its new scans, and one for each pair.
///
/// Scans are news to nobody; a pair is, and rare enough to be told.
fn chain(
    conn: &mut PgConnection,
    decided: &[Decided<'_>],
    new: &HashSet<Uuid>,
    notices: Vec<Notice<'_>>,
) -> Result<(), StoreError> {
    let mut by_site: HashMap<Uuid, Vec<Entry>> = HashMap::new();
    let mut seen = HashSet::new();
    let told: HashSet<Uuid> = notices.iter().map(|notice| notice.actor.site_id).collect();
    let newest = decided.iter().map(|row| row.scan.recorded_at).max();
    for row in decided.iter().filter(|row| new.contains(&row.scan.id)) {
        let tables = ["scans", given::TABLE].into_iter().take(if row.scan.given.is_some() { 2 } else { 1 });
        for table in tables.filter(|table| seen.insert((row.batch_id, *table))) {
            let actor = &row.scan.actor;
            by_site.entry(actor.site_id).or_default().push(entry(actor, Subject::row(table, row.batch_id)));
        }
    }
    for Notice { id, actor } in notices {
        by_site.entry(actor.site_id).or_default().push(entry(actor, Subject::row("twin_notices", id)));
    }
    let mut sites: Vec<_> = by_site.into_iter().collect();
    // Heads are locked in one order by every server.
    sites.sort_unstable_by_key(|(site_id, _)| *site_id);
    for (site_id, entries) in sites {
        let Some(now) = newest else { continue };
        let span = audit::append_entries(conn, site_id, Operation::CreateScan.as_str(), now, entries)?;
        if let (Some(span), true) = (span, told.contains(&site_id)) {
            stream::notify(conn, site_id, span)?;
        }
    }
    Ok(())
}

type StoredRow =
    ((Uuid, Uuid, Uuid, Option<Uuid>, Vec<u8>, DateTime<Utc>, (String, String, Option<Uuid>)), Names, Worn);
type Names = Option<(String, String)>;
type Worn = Option<(String, String, String, String)>;

/// What was answered to scans that came before, or that they are other scans under a used id.
fn stored_before<'s>(
    conn: &mut PgConnection,
    versions: &mut Versions,
    decided: &[Decided<'s>],
    new: &HashSet<Uuid>,
) -> Result<HashMap<usize, Result<Answered, StoreError>>, StoreError> {
    let mut fresh = new.clone();
    // The first delivery of a new scan takes its answer from what was just decided; later ones read it back.
    let repeats: Vec<&Decided<'s>> = decided.iter().filter(|row| !fresh.remove(&row.scan.id)).collect();
    if repeats.is_empty() {
        return Ok(HashMap::new());
    }
    let ids: Vec<Uuid> = repeats.iter().map(|row| row.scan.id).collect();
    let rows: Vec<StoredRow> = scans::table
        .left_join(badges::table.left_join(people::table))
        .left_join(respirators::table)
        .filter(scans::id.eq_any(&ids))
        .select((
            (
                scans::id,
                scans::site_id,
                scans::gate_id,
                scans::gate_policy_id,
                scans::code_digest,
                scans::happened_at,
                (scans::answer, scans::reason, scans::twin_gate_id),
            ),
            (people::given_name, people::family_name).nullable(),
            (respirators::make, respirators::model, respirators::style, respirators::size).nullable(),
        ))
        .load(conn)?;
    versions.meet(conn, rows.iter().filter_map(|row| row.0.3))?;
    let rows: HashMap<Uuid, StoredRow> = rows.into_iter().map(|row| (row.0.0, row)).collect();
    let mut found = HashMap::new();
    for row in repeats {
        found.insert(row.place, repeated(row.scan, rows.get(&row.scan.id), versions));
    }
    Ok(found)
}

fn repeated(scan: &NewScan, stored: Option<&StoredRow>, versions: &Versions) -> Result<Answered, StoreError> {
    let Some(((_, site_id, gate_id, policy, digest, happened_at, (answer, word, twin_gate)), name, worn)) =
        stored
    else {
        return Err(StoreError::internal(format!("scan {} was there and is gone", scan.id)));
    };
    let same = *site_id == scan.actor.site_id
        && *gate_id == scan.gate_id
        && *digest == scan.code_digest
        && *happened_at == scan.happened_at;
    if !same {
        return Err(id_reused());
    }
    let reason = reason(word)?;
    // Under one id, a gate asked or told: what it answered alone may differ from what the server would have said.
    let said = scan.given.as_ref().map_or(reason.answer(), |given| given.answer);
    if said.as_str() != answer {
        return Err(id_reused());
    }
    if let Some(given) = &scan.given {
        return Ok(given::kept(scan.id, given));
    }
    let worn = worn.as_ref().map(|(make, model, style, size)| [&**make, model, style, size].join(" "));
    let fallback = versions.get(*policy).map_or("", |version| &version.fallback);
    let (instruction, check_name) = told(reason.instruction(fallback), *twin_gate);
    Ok(Answered {
        id: scan.id,
        answer: reason.answer(),
        instruction,
        name: name.as_ref().map(|(given, family)| whole_name(given, family)),
        respirator: worn,
        check_name,
    })
}
