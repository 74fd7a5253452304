//! Who was cleared at a gate at a moment, as known then or now.

use std::collections::BTreeMap;

use diesel::{PgConnection, prelude::*};
use sellion_rules::{clearance::ClearanceState, policy::in_force};
use uuid::Uuid;

use super::{Frame, Moments, RespiratorClearance, frame, load};
use crate::{
    StoreError, gate, policy,
    schema::{attempts, people},
};

/// How many people are looked at in one go.
const PEOPLE_AT_ONCE: i64 = 500;

/// One person who was cleared for at least one respirator that the gate accepted.
#[derive(Debug, Clone)]
pub struct PersonCleared {
    /// The person.
    pub person_id: Uuid,
    /// Their staff number.
    pub staff_number: String,
    /// Given name.
    pub given_name: String,
    /// Family name.
    pub family_name: String,
    /// The clearances that held, in the order of respirator ids.
    pub clearances: Vec<RespiratorClearance>,
}

/// The answer of one gate for one moment.
#[derive(Debug, Clone)]
pub struct GateClearances {
    /// The policy in force; none where none had been decided.
    pub policy_id: Option<Uuid>,
    /// Whether the gate let everybody pass without a respirator.
    pub none_needed: bool,
    /// The respirators it accepted, the preferred one first.
    pub respirator_ids: Vec<Uuid>,
    /// Who was cleared, by person id; one more than asked for when there are more.
    pub people: Vec<PersonCleared>,
}

/// Who was cleared at the gate, by person id, from the one after `after`, at most `limit`.
pub fn cleared_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    gate_id: Uuid,
    moments: Moments,
    (after, limit): (Uuid, i64),
) -> Result<GateClearances, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    let versions = policy::of_gate(conn, gate_id, moments.known_at)?;
    let version = in_force(&versions, moments.at);
    let listed = policy::listed(conn, site_id, moments.known_at)?;
    let comes_to = version.and_then(|version| version.at(moments.at, &listed));
    let none_needed = comes_to.as_ref().is_some_and(|policy| policy.none_needed);
    let respirator_ids = comes_to.map(|policy| policy.accepted_respirators).unwrap_or_default();
    let frame = frame(conn, site_id)?;
    let asked = Asked { site_id, frame, moments, respirators: &respirator_ids };
    let people = asked.people(conn, after, usize::try_from(limit).unwrap_or(0))?;
    Ok(GateClearances { policy_id: version.map(|version| version.id), none_needed, respirator_ids, people })
}

struct Asked<'a> {
    site_id: Uuid,
    frame: Frame,
    moments: Moments,
    respirators: &'a [Uuid],
}

type PersonRow = (Uuid, String, String, String);

impl Asked<'_> {
    /// Only some of those tested were cleared, so further people are looked at until enough are found.
    fn people(
        &self,
        conn: &mut PgConnection,
        mut after: Uuid,
        limit: usize,
    ) -> Result<Vec<PersonCleared>, StoreError> {
        let mut found = Vec::new();
        loop {
            let some = self.tested(conn, after)?;
            let Some((last, ..)) = some.last() else { return Ok(found) };
            after = *last;
            found.extend(self.cleared(conn, some)?);
            if found.len() >= limit {
                found.truncate(limit);
                return Ok(found);
            }
        }
    }

    /// The next people who have been tested on a respirator that the gate accepts.
    fn tested(&self, conn: &mut PgConnection, after: Uuid) -> Result<Vec<PersonRow>, StoreError> {
        let tested = attempts::table
            .filter(attempts::respirator_id.eq_any(self.respirators))
            .filter(attempts::recorded_at.le(self.moments.known_at))
            .select(attempts::person_id);
        let rows = people::table
            .filter(people::site_id.eq(self.site_id))
            .filter(people::id.gt(after))
            .filter(people::id.eq_any(tested))
            .order(people::id)
            .limit(PEOPLE_AT_ONCE)
            .select((people::id, people::staff_number, people::given_name, people::family_name))
            .load(conn)?;
        Ok(rows)
    }

    fn cleared(
        &self,
        conn: &mut PgConnection,
        people: Vec<PersonRow>,
    ) -> Result<Vec<PersonCleared>, StoreError> {
        let ids: Vec<Uuid> = people.iter().map(|(id, ..)| *id).collect();
        let mut clearances: BTreeMap<Uuid, Vec<RespiratorClearance>> = BTreeMap::new();
        for ((person_id, respirator_id), facts) in load(conn, self.site_id, &ids)? {
            let clearance = self.frame.clearance(&facts, self.moments);
            if self.respirators.contains(&respirator_id) && clearance.state == ClearanceState::Cleared {
                let cleared = RespiratorClearance { respirator_id, clearance };
                clearances.entry(person_id).or_default().push(cleared);
            }
        }
        let cleared = people.into_iter().filter_map(|(person_id, staff_number, given_name, family_name)| {
            let clearances = clearances.remove(&person_id)?;
            Some(PersonCleared { person_id, staff_number, given_name, family_name, clearances })
        });
        Ok(cleared.collect())
    }
}
