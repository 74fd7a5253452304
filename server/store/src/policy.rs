//! What each gate accepts from when on: dated versions, appended and never changed.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    policy::{Acceptance, Accepted, Listed, PolicyStanding, PolicyVersion, RespiratorClass, standing},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    StoreError, TextList, Tx, gate, insert_once, respirator,
    schema::{gate_policies, gate_policy_classes, gate_policy_respirators},
    stored::{count, read_count, word},
};

/// A version about to be stored.
#[derive(Debug, Clone)]
pub struct NewPolicy {
    /// The gate.
    pub gate_id: Uuid,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// What was decided.
    pub version: PolicyVersion,
}

/// A version as stored.
#[derive(Debug, Clone)]
pub struct Policy {
    /// The gate.
    pub gate_id: Uuid,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
    /// What was decided.
    pub version: PolicyVersion,
    /// Where it stands among those of its gate.
    pub standing: PolicyStanding,
}

#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = gate_policies, check_for_backend(diesel::pg::Pg))]
struct PolicyRow {
    id: Uuid,
    site_id: Uuid,
    gate_id: Uuid,
    effective_from: DateTime<Utc>,
    none_needed: bool,
    none_needed_until: Option<DateTime<Utc>>,
    knowledge_age_max_seconds: i32,
    fallback: String,
    leads: Option<TextList>,
    happened_at: DateTime<Utc>,
}

impl PolicyRow {
    fn of(site_id: Uuid, new: &NewPolicy) -> Result<Self, StoreError> {
        let version = &new.version;
        Ok(Self {
            id: version.id,
            site_id,
            gate_id: new.gate_id,
            effective_from: version.effective_from,
            none_needed: version.none_needed,
            none_needed_until: version.none_needed_until,
            knowledge_age_max_seconds: count(version.knowledge_age_max_seconds)?,
            fallback: version.fallback.clone(),
            leads: version.leads.clone().map(TextList),
            happened_at: new.happened_at,
        })
    }
}

/// The versions of a gate by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    now: DateTime<Utc>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Policy>, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    let rows = gate_policies::table
        .filter(gate_policies::gate_id.eq(gate_id))
        .filter(gate_policies::id.gt(after))
        .order(gate_policies::id)
        .limit(limit)
        .select((PolicyRow::as_select(), gate_policies::recorded_at))
        .load(conn)?;
    with_standing(conn, gate_id, rows, now)
}

/// Whatever is listed, it stands among all versions of its gate, and those are few.
fn with_standing(
    conn: &mut PgConnection,
    gate_id: Uuid,
    rows: Vec<(PolicyRow, DateTime<Utc>)>,
    now: DateTime<Utc>,
) -> Result<Vec<Policy>, StoreError> {
    let all = of_gate(conn, gate_id, DateTime::<Utc>::MAX_UTC)?;
    let decided: Vec<_> = rows.iter().map(|(row, _)| row.happened_at).collect();
    let versions = versions(conn, rows)?.into_iter().zip(decided);
    Ok(versions
        .map(|(version, happened_at)| Policy {
            gate_id,
            happened_at,
            standing: standing(&version, &all, now),
            version,
        })
        .collect())
}

/// Every version of a gate that was known at a moment, the earliest first.
pub fn of_gate(
    conn: &mut PgConnection,
    gate_id: Uuid,
    known_at: DateTime<Utc>,
) -> Result<Vec<PolicyVersion>, StoreError> {
    let rows = gate_policies::table
        .filter(gate_policies::gate_id.eq(gate_id))
        .filter(gate_policies::recorded_at.le(known_at))
        .order((gate_policies::effective_from, gate_policies::recorded_at, gate_policies::id))
        .select((PolicyRow::as_select(), gate_policies::recorded_at))
        .load(conn)?;
    versions(conn, rows)
}

/// Some versions by their ids. A version never changes, so whoever has read it needs not read it again.
pub(crate) fn by_ids(conn: &mut PgConnection, ids: &[Uuid]) -> Result<Vec<PolicyVersion>, StoreError> {
    let rows = gate_policies::table
        .filter(gate_policies::id.eq_any(ids))
        .select((PolicyRow::as_select(), gate_policies::recorded_at))
        .load(conn)?;
    versions(conn, rows)
}

type RespiratorLine = (Uuid, i32, Uuid, Option<DateTime<Utc>>);
type ClassLine = (Uuid, i32, Option<String>, Option<String>, Option<DateTime<Utc>>);

/// The rows with what they accept, in their order.
fn versions(
    conn: &mut PgConnection,
    rows: Vec<(PolicyRow, DateTime<Utc>)>,
) -> Result<Vec<PolicyVersion>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|(row, _)| row.id).collect();
    let named: Vec<RespiratorLine> = gate_policy_respirators::table
        .filter(gate_policy_respirators::gate_policy_id.eq_any(&ids))
        .select((
            gate_policy_respirators::gate_policy_id,
            gate_policy_respirators::place,
            gate_policy_respirators::respirator_id,
            gate_policy_respirators::accepted_until,
        ))
        .load(conn)?;
    let classes: Vec<ClassLine> = gate_policy_classes::table
        .filter(gate_policy_classes::gate_policy_id.eq_any(&ids))
        .select((
            gate_policy_classes::gate_policy_id,
            gate_policy_classes::place,
            gate_policy_classes::facepiece,
            gate_policy_classes::filter_class,
            gate_policy_classes::accepted_until,
        ))
        .load(conn)?;
    let mut lines: HashMap<Uuid, Vec<(i32, Acceptance)>> = HashMap::new();
    for (policy, place, respirator_id, until) in named {
        let acceptance = Acceptance { accepted: Accepted::Respirator { respirator_id }, until };
        lines.entry(policy).or_default().push((place, acceptance));
    }
    for (policy, place, facepiece, filter_class, until) in classes {
        let facepiece = facepiece.as_deref().map(word).transpose()?;
        let accepted = Accepted::Class(RespiratorClass { facepiece, filter_class });
        lines.entry(policy).or_default().push((place, Acceptance { accepted, until }));
    }
    rows.into_iter()
        .map(|(row, recorded_at)| {
            let mut accepts = lines.remove(&row.id).unwrap_or_default();
            accepts.sort_by_key(|(place, _)| *place);
            Ok(PolicyVersion {
                id: row.id,
                effective_from: row.effective_from,
                recorded_at,
                accepts: accepts.into_iter().map(|(_, acceptance)| acceptance).collect(),
                none_needed: row.none_needed,
                none_needed_until: row.none_needed_until,
                knowledge_age_max_seconds: read_count(row.knowledge_age_max_seconds)?,
                fallback: row.fallback,
                leads: row.leads.map(|leads| leads.0),
            })
        })
        .collect()
}

/// Decides what a gate accepts.
pub fn create(tx: &mut Tx<'_>, new: &NewPolicy) -> Result<Policy, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    gate::find(tx.conn, site_id, new.gate_id)?;
    let row = PolicyRow::of(site_id, new)?;
    let added = insert_once(
        tx.conn,
        &row,
        |conn, row| {
            let stamps = (gate_policies::recorded_at.eq(now), gate_policies::recorded_by.eq(by));
            let made = diesel::insert_into(gate_policies::table)
                .values((row, stamps))
                .on_conflict(gate_policies::id)
                .do_nothing()
                .execute(conn);
            Ok(made?)
        },
        |conn| {
            gate_policies::table
                .find(row.id)
                .filter(gate_policies::site_id.eq(site_id))
                .select(PolicyRow::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        known_here(tx, &new.version)?;
        accept(tx, &new.version)?;
        tx.touched("gate_policies", row.id);
        tx.touched("gate_policy_respirators", row.id);
        tx.touched("gate_policy_classes", row.id);
    }
    let stored = gate_policies::table
        .find(row.id)
        .select((PolicyRow::as_select(), gate_policies::recorded_at))
        .load(tx.conn)?;
    let stored = with_standing(tx.conn, new.gate_id, stored, now)?.pop();
    let stored = stored.ok_or_else(|| StoreError::internal("a policy just stored is gone"))?;
    if stored.version.accepts != new.version.accepts {
        return Err(crate::insert::id_reused());
    }
    Ok(stored)
}

/// Respirators are picked from the site's own, so that no other site's can slip in; a class is one that is known.
fn known_here(tx: &mut Tx<'_>, version: &PolicyVersion) -> Result<(), StoreError> {
    let listed = listed(tx.conn, tx.actor.site_id, tx.now)?;
    for (place, line) in version.accepts.iter().enumerate() {
        let refused = |member: &str, sentence: String| {
            Refusal::new(Code::InvalidValue, sentence).field(format!("accepts[{place}].{member}"))
        };
        match &line.accepted {
            Accepted::Respirator { respirator_id } => {
                if !listed.iter().any(|listed| listed.respirator == *respirator_id) {
                    let sentence = format!("There is no respirator {respirator_id} here.");
                    return Err(refused("respirator_id", sentence).into());
                }
            }
            Accepted::Class(class) => {
                if let Some(unknown) = class.unknown(&listed) {
                    let sentence = format!(
                        "\"{unknown}\" is no filter class that is published or that a respirator here has: \
                         write it as the list of respirators does."
                    );
                    return Err(refused("filter_class", sentence).into());
                }
            }
        }
    }
    Ok(())
}

fn accept(tx: &mut Tx<'_>, version: &PolicyVersion) -> Result<(), StoreError> {
    let (mut named, mut classes) = (Vec::new(), Vec::new());
    for (place, line) in (0..).zip(&version.accepts) {
        match &line.accepted {
            Accepted::Respirator { respirator_id } => named.push((
                gate_policy_respirators::gate_policy_id.eq(version.id),
                gate_policy_respirators::respirator_id.eq(*respirator_id),
                gate_policy_respirators::place.eq(place),
                gate_policy_respirators::accepted_until.eq(line.until),
                gate_policy_respirators::recorded_at.eq(tx.now),
            )),
            Accepted::Class(RespiratorClass { facepiece, filter_class }) => classes.push((
                gate_policy_classes::gate_policy_id.eq(version.id),
                gate_policy_classes::place.eq(place),
                gate_policy_classes::facepiece.eq(facepiece.map(|facepiece| facepiece.as_str())),
                gate_policy_classes::filter_class.eq(filter_class.as_deref()),
                gate_policy_classes::accepted_until.eq(line.until),
                gate_policy_classes::recorded_at.eq(tx.now),
            )),
        }
    }
    diesel::insert_into(gate_policy_respirators::table).values(named).execute(tx.conn)?;
    diesel::insert_into(gate_policy_classes::table).values(classes).execute(tx.conn)?;
    Ok(())
}

/// The respirators of a site as its list had them when it was read at a moment.
pub fn listed(
    conn: &mut PgConnection,
    site_id: Uuid,
    known_at: DateTime<Utc>,
) -> Result<Vec<Listed>, StoreError> {
    let listed = respirator::listed_at(conn, site_id, known_at)?;
    listed
        .into_iter()
        .map(|row| {
            Ok(Listed {
                respirator: row.id,
                facepiece: word(&row.facepiece)?,
                filter_class: row.filter_class,
                retired_at: row.retired_at,
            })
        })
        .collect()
}

/// What a gate accepts by its policy in force.
#[derive(Debug, Clone)]
pub struct Accepting {
    /// The gate.
    pub gate_id: Uuid,
    /// Whether no respirator is needed there.
    pub none_needed: bool,
    /// The respirators accepted there, the preferred one first.
    pub respirators: Vec<Uuid>,
}

/// What every gate of the site accepts at `at`, by gate id. A gate without a policy accepts nothing.
pub fn accepting(
    conn: &mut PgConnection,
    site_id: Uuid,
    at: DateTime<Utc>,
) -> Result<Vec<Accepting>, StoreError> {
    let in_force: Vec<(Uuid, Uuid)> = gate_policies::table
        .filter(gate_policies::site_id.eq(site_id))
        .filter(gate_policies::effective_from.le(at))
        .distinct_on(gate_policies::gate_id)
        .order((
            gate_policies::gate_id,
            gate_policies::effective_from.desc(),
            gate_policies::recorded_at.desc(),
            gate_policies::id.desc(),
        ))
        .select((gate_policies::gate_id, gate_policies::id))
        .load(conn)?;
    let ids: Vec<Uuid> = in_force.iter().map(|(_, policy)| *policy).collect();
    let versions: HashMap<Uuid, PolicyVersion> =
        by_ids(conn, &ids)?.into_iter().map(|version| (version.id, version)).collect();
    let listed = listed(conn, site_id, at)?;
    let accepting = in_force.into_iter().filter_map(|(gate_id, policy)| {
        let comes_to = versions.get(&policy)?.at(at, &listed)?;
        Some(Accepting {
            gate_id,
            none_needed: comes_to.none_needed,
            respirators: comes_to.accepted_respirators,
        })
    });
    Ok(accepting.collect())
}
