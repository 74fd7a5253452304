//! Gates, and what each accepts from when on.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx, insert_once, on_constraint,
    schema::{gate_policies, gate_policy_respirators, gates, respirators},
};

/// A gate to be set up.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = gates, check_for_backend(diesel::pg::Pg))]
pub struct NewGate {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// What people call it.
    pub name: String,
}

/// A gate.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = gates, check_for_backend(diesel::pg::Pg))]
pub struct Gate {
    /// Its id.
    pub id: Uuid,
    /// What people call it.
    pub name: String,
    /// When it was set up.
    pub created_at: DateTime<Utc>,
}

/// Gates of a site by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Gate>, StoreError> {
    Ok(gates::table
        .filter(gates::site_id.eq(site_id))
        .filter(gates::id.gt(after))
        .order(gates::id)
        .limit(limit)
        .select(Gate::as_select())
        .load(conn)?)
}

/// One gate of a site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Gate, StoreError> {
    let gate = gates::table
        .find(id)
        .filter(gates::site_id.eq(site_id))
        .select(Gate::as_select())
        .first(conn)
        .optional()?;
    gate.ok_or_else(|| StoreError::not_found("gate"))
}

/// Sets up a gate.
pub fn create(tx: &mut Tx<'_>, new: &NewGate) -> Result<Added, StoreError> {
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(gates::table)
                .values(new)
                .on_conflict(gates::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "gates_name_taken", || {
                Refusal::new(Code::AlreadyExists, "A gate of this name is set up already.").field("name")
            })
        },
        |conn| {
            gates::table
                .find(new.id)
                .filter(gates::site_id.eq(new.site_id))
                .select(NewGate::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("gates", new.id);
    }
    Ok(added)
}

/// What a gate accepts from a moment on.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = gate_policies, check_for_backend(diesel::pg::Pg))]
pub struct NewPolicy {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The gate.
    pub gate_id: Uuid,
    /// From when on it is in force, until a later one is.
    pub effective_from: DateTime<Utc>,
    /// Whether nobody needs a respirator here.
    pub none_needed: bool,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    pub knowledge_age_max_seconds: i32,
    /// What to do when nobody can tell.
    pub fallback: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A policy with the respirators it accepts, the preferred one first.
#[derive(Debug, Clone)]
pub struct Policy {
    /// The policy.
    pub policy: NewPolicy,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// The respirators used here.
    pub respirator_ids: Vec<Uuid>,
}

/// The policies of a gate by id, those after `after`.
pub fn list_policies(
    conn: &mut PgConnection,
    site_id: Uuid,
    gate_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Policy>, StoreError> {
    find(conn, site_id, gate_id)?;
    let rows = gate_policies::table
        .filter(gate_policies::site_id.eq(site_id))
        .filter(gate_policies::gate_id.eq(gate_id))
        .filter(gate_policies::id.gt(after))
        .order(gate_policies::id)
        .limit(limit)
        .select((NewPolicy::as_select(), gate_policies::recorded_at))
        .load(conn)?;
    with_respirators(conn, rows)
}

/// One policy of a site.
pub fn find_policy(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Policy, StoreError> {
    let rows = gate_policies::table
        .find(id)
        .filter(gate_policies::site_id.eq(site_id))
        .select((NewPolicy::as_select(), gate_policies::recorded_at))
        .load(conn)?;
    with_respirators(conn, rows)?.pop().ok_or_else(|| StoreError::not_found("gate policy"))
}

fn with_respirators(
    conn: &mut PgConnection,
    rows: Vec<(NewPolicy, DateTime<Utc>)>,
) -> Result<Vec<Policy>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|(policy, _)| policy.id).collect();
    let accepted: Vec<(Uuid, Uuid)> = gate_policy_respirators::table
        .filter(gate_policy_respirators::gate_policy_id.eq_any(ids))
        .order(gate_policy_respirators::place)
        .select((gate_policy_respirators::gate_policy_id, gate_policy_respirators::respirator_id))
        .load(conn)?;
    let mut by_policy: HashMap<Uuid, Vec<Uuid>> = HashMap::new();
    for (policy_id, respirator_id) in accepted {
        by_policy.entry(policy_id).or_default().push(respirator_id);
    }
    let whole = |(policy, recorded_at): (NewPolicy, _)| Policy {
        respirator_ids: by_policy.remove(&policy.id).unwrap_or_default(),
        recorded_at,
        policy,
    };
    Ok(rows.into_iter().map(whole).collect())
}

/// Decides what a gate accepts.
pub fn create_policy(
    tx: &mut Tx<'_>,
    new: &NewPolicy,
    respirator_ids: &[Uuid],
) -> Result<Policy, StoreError> {
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    find(tx.conn, site_id, new.gate_id)?;
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let stamps = (gate_policies::recorded_at.eq(now), gate_policies::recorded_by.eq(by));
            let made = diesel::insert_into(gate_policies::table)
                .values((new, stamps))
                .on_conflict(gate_policies::id)
                .do_nothing()
                .execute(conn);
            Ok(made?)
        },
        |conn| {
            gate_policies::table
                .find(new.id)
                .filter(gate_policies::site_id.eq(site_id))
                .select(NewPolicy::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        accept(tx, new.id, respirator_ids)?;
        tx.touched("gate_policies", new.id);
        tx.touched("gate_policy_respirators", new.id);
    }
    let stored = find_policy(tx.conn, site_id, new.id)?;
    if stored.respirator_ids != respirator_ids {
        return Err(crate::insert::id_reused());
    }
    Ok(stored)
}

/// Respirators are picked from the site's own, so that no other site's can slip in.
fn accept(tx: &mut Tx<'_>, policy_id: Uuid, respirator_ids: &[Uuid]) -> Result<(), StoreError> {
    let known: Vec<Uuid> = respirators::table
        .filter(respirators::site_id.eq(tx.site_id()))
        .filter(respirators::id.eq_any(respirator_ids))
        .select(respirators::id)
        .load(tx.conn)?;
    if let Some(unknown) = respirator_ids.iter().find(|id| !known.contains(id)) {
        let sentence = format!("There is no respirator {unknown} here.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("respirator_ids").into());
    }
    let rows: Vec<_> = (0..)
        .zip(respirator_ids)
        .map(|(place, respirator_id)| {
            (
                gate_policy_respirators::gate_policy_id.eq(policy_id),
                gate_policy_respirators::respirator_id.eq(*respirator_id),
                gate_policy_respirators::place.eq(place),
                gate_policy_respirators::recorded_at.eq(tx.now),
            )
        })
        .collect();
    diesel::insert_into(gate_policy_respirators::table).values(rows).execute(tx.conn)?;
    Ok(())
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
    let in_force: Vec<(Uuid, Uuid, bool)> = gate_policies::table
        .filter(gate_policies::site_id.eq(site_id))
        .filter(gate_policies::effective_from.le(at))
        .distinct_on(gate_policies::gate_id)
        .order((
            gate_policies::gate_id,
            gate_policies::effective_from.desc(),
            gate_policies::recorded_at.desc(),
            gate_policies::id.desc(),
        ))
        .select((gate_policies::gate_id, gate_policies::id, gate_policies::none_needed))
        .load(conn)?;
    let policies: Vec<Uuid> = in_force.iter().map(|(_, policy, _)| *policy).collect();
    let accepted: Vec<(Uuid, Uuid)> = gate_policy_respirators::table
        .filter(gate_policy_respirators::gate_policy_id.eq_any(policies))
        .order((gate_policy_respirators::gate_policy_id, gate_policy_respirators::place))
        .select((gate_policy_respirators::gate_policy_id, gate_policy_respirators::respirator_id))
        .load(conn)?;
    let of = |policy: Uuid| {
        let respirators = accepted.iter().filter(move |(accepting, _)| *accepting == policy);
        respirators.map(|(_, respirator)| *respirator).collect()
    };
    let gates = in_force.into_iter();
    Ok(gates
        .map(|(gate_id, policy, none_needed)| Accepting { gate_id, none_needed, respirators: of(policy) })
        .collect())
}
