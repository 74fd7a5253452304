//! Whom a gate will turn away at a moment ahead, from everything that is known now.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    clearance::Clearance,
    outlook::{Outlook, outlook},
    policy::{PolicyVersion, in_force},
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    StoreError,
    clearance::{Moments, frame, load},
    gate, policy,
    schema::{badges, people, scans},
};

/// More people than one gate sees in any shift; more of them are asked about in parts.
const PEOPLE_MAX: usize = 5_000;
/// How many people are looked at in one go.
const PEOPLE_AT_ONCE: usize = 500;

/// The people who are asked about: whoever is named by any of these.
#[derive(Debug, Clone, Default)]
pub struct Who {
    /// Everybody of these departments or wards.
    pub units: Vec<String>,
    /// These people.
    pub staff_numbers: Vec<String>,
    /// Whoever was let in at this gate in these last days.
    pub entered_within_days: Option<u32>,
}

/// The moment that is asked about.
#[derive(Debug, Clone, Copy)]
pub enum When {
    /// That one.
    At(DateTime<Utc>),
    /// When this version of the gate's policy begins.
    Policy(Uuid),
}

/// One person.
#[derive(Debug, Clone)]
pub struct PersonOutlook {
    /// The person.
    pub person_id: Uuid,
    /// Their staff number.
    pub staff_number: String,
    /// Given name.
    pub given_name: String,
    /// Family name.
    pub family_name: String,
    /// Where they work.
    pub unit: String,
    /// What the moment brings.
    pub outlook: Outlook,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct GateOutlook {
    /// The moment that was asked about.
    pub at: DateTime<Utc>,
    /// The version in force then; none where there is none.
    pub policy_id: Option<Uuid>,
    /// The people, by staff number.
    pub people: Vec<PersonOutlook>,
    /// Staff numbers that nobody here has.
    pub unknown_staff_numbers: Vec<String>,
    /// Departments and wards that nobody here belongs to.
    pub unknown_units: Vec<String>,
}

#[derive(Queryable, Selectable, Clone)]
#[diesel(table_name = people, check_for_backend(diesel::pg::Pg))]
struct Person {
    id: Uuid,
    staff_number: String,
    given_name: String,
    family_name: String,
    unit: String,
}

/// What a moment ahead brings at a gate for the people who are asked about.
pub fn of_gate(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    who: &Who,
    when: When,
    now: DateTime<Utc>,
) -> Result<GateOutlook, StoreError> {
    gate::find(conn, site_id, gate_id)?;
    let versions = policy::of_gate(conn, gate_id, now)?;
    let at = moment(&versions, when)?;
    let listed = policy::listed(conn, site_id, now)?;
    let comes_to = |at: DateTime<Utc>| in_force(&versions, at).and_then(|version| version.at(at, &listed));
    let (policy_now, policy_then) = (comes_to(now), comes_to(at));
    let asked = people_asked(conn, (site_id, gate_id), who, now)?;
    let frame = frame(conn, site_id)?;
    let mut found = Vec::with_capacity(asked.len());
    for some in asked.chunks(PEOPLE_AT_ONCE) {
        let ids: Vec<Uuid> = some.iter().map(|person| person.id).collect();
        let mut of: BTreeMap<Uuid, [Vec<(Uuid, Clearance)>; 2]> = BTreeMap::new();
        for ((person, respirator), facts) in load(conn, site_id, &ids)? {
            let known = |at| frame.clearance(&facts, Moments { at, known_at: now });
            let [of_now, of_then] = of.entry(person).or_default();
            of_now.push((respirator, known(now)));
            of_then.push((respirator, known(at)));
        }
        found.extend(some.iter().cloned().map(|person| {
            let [of_now, of_then] = of.remove(&person.id).unwrap_or_default();
            let outlook = outlook((policy_now.as_ref(), &of_now), (policy_then.as_ref(), &of_then));
            let Person { id, staff_number, given_name, family_name, unit } = person;
            PersonOutlook { person_id: id, staff_number, given_name, family_name, unit, outlook }
        }));
    }
    let numbers: BTreeSet<&str> = found.iter().map(|person| &*person.staff_number).collect();
    let units: BTreeSet<&str> = found.iter().map(|person| &*person.unit).collect();
    let missing = |asked: &[String], there: &BTreeSet<&str>| {
        asked.iter().filter(|asked| !there.contains(asked.as_str())).cloned().collect()
    };
    Ok(GateOutlook {
        at,
        policy_id: in_force(&versions, at).map(|version| version.id),
        unknown_staff_numbers: missing(&who.staff_numbers, &numbers),
        unknown_units: missing(&who.units, &units),
        people: found,
    })
}

fn moment(versions: &[PolicyVersion], when: When) -> Result<DateTime<Utc>, StoreError> {
    match when {
        When::At(at) => Ok(at),
        When::Policy(id) => {
            let version = versions.iter().find(|version| version.id == id);
            version.map(|version| version.effective_from).ok_or_else(|| {
                let sentence = "This gate has no such policy.";
                Refusal::new(Code::InvalidValue, sentence).field("policy_id").into()
            })
        }
    }
}

fn people_asked(
    conn: &mut PgConnection,
    (site_id, gate_id): (Uuid, Uuid),
    who: &Who,
    now: DateTime<Utc>,
) -> Result<Vec<Person>, StoreError> {
    let entered: Vec<Uuid> = match who.entered_within_days {
        None => Vec::new(),
        Some(days) => scans::table
            .inner_join(badges::table)
            .filter(scans::gate_id.eq(gate_id))
            .filter(scans::happened_at.ge(now - TimeDelta::days(days.into())))
            .filter(scans::answer.eq("enter"))
            .select(badges::person_id)
            .distinct()
            .load(conn)?,
    };
    let named = people::unit
        .eq_any(&who.units)
        .or(people::staff_number.eq_any(&who.staff_numbers))
        .or(people::id.eq_any(entered));
    let found: Vec<Person> = people::table
        .filter(people::site_id.eq(site_id))
        .filter(named)
        .order((people::staff_number, people::id))
        .limit(i64::try_from(PEOPLE_MAX + 1).unwrap_or(i64::MAX))
        .select(Person::as_select())
        .load(conn)?;
    if found.len() > PEOPLE_MAX {
        let sentence = format!("These are more than {PEOPLE_MAX} people: ask about fewer at a time.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("units").into());
    }
    Ok(found)
}
