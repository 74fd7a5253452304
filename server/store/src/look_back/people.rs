//! What a look-back says of each person: clearances with and without the doubtful attempts, gate entries, badges.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName,
    prelude::*,
    sql_types::{Array, BigInt, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::{
    clearance::{Clearance, ClearanceState, PersonRespiratorFacts, StopFact},
    look_back::Certainty,
};
use uuid::Uuid;

use super::{Asked, PersonFound};
use crate::{
    StoreError,
    clearance::{self, Frame, Moments, Pair},
    schema::{badge_endings, badges, people, respirators},
    stop,
};

/// One clearance, and what it would be without the doubtful attempts.
#[derive(Debug, Clone)]
pub struct ClearanceDoubt {
    /// For which respirator.
    pub respirator_id: Uuid,
    /// Make, model, style and size.
    pub respirator: String,
    /// As it would be if what is asked about were not stopped.
    pub before: Clearance,
    /// As it is.
    pub now: Clearance,
    /// With the surely affected attempts held.
    pub without_sure: Clearance,
    /// With the possibly affected ones held as well.
    pub without_possible: Clearance,
}

impl ClearanceDoubt {
    /// Whether it is lost: when the surely affected attempts are held, or only with the possibly affected ones; none
    /// where it stands all the same, or did not stand before.
    #[must_use]
    pub fn retest(&self) -> Option<Certainty> {
        let cleared = |clearance: &Clearance| clearance.state == ClearanceState::Cleared;
        let lost = |without: &Clearance| cleared(&self.before) && !cleared(without);
        let surely = lost(&self.without_sure).then_some(Certainty::Surely);
        surely.or_else(|| lost(&self.without_possible).then_some(Certainty::Possibly))
    }
}

/// How often somebody was let in at a gate since the doubtful attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GateEntries {
    /// The gate.
    pub gate_id: Uuid,
    /// Its name.
    pub name: String,
    /// How often.
    pub count: i64,
    /// The last time.
    pub last_at: DateTime<Utc>,
}

/// A badge that was not ended and has not run out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadgeHeld {
    /// The badge.
    pub badge_id: Uuid,
    /// Its serial.
    pub serial: String,
}

/// One person of a look-back.
#[derive(Debug, Clone)]
pub struct PersonDetail {
    /// The runs and the worst of their verdicts.
    pub found: PersonFound,
    /// The staff number.
    pub staff_number: String,
    /// Given name.
    pub given_name: String,
    /// Family name.
    pub family_name: String,
    /// Where they work.
    pub unit: String,
    /// Their clearances, by respirator id.
    pub clearances: Vec<ClearanceDoubt>,
    /// Where they were let in since the first doubtful pass, by the gate's name.
    pub entries: Vec<GateEntries>,
    /// Their badges in force, by id.
    pub badges: Vec<BadgeHeld>,
}

impl PersonDetail {
    /// The respirators that the person has to be tested on again, each with how surely what it stood on is affected.
    pub fn retests(&self) -> impl Iterator<Item = (Uuid, Certainty)> {
        self.clearances.iter().filter_map(|doubt| Some((doubt.respirator_id, doubt.retest()?)))
    }
}

/// Everything about these people, in their order.
pub fn details(
    conn: &mut PgConnection,
    site_id: Uuid,
    asked: Asked,
    found: Vec<PersonFound>,
    now: DateTime<Utc>,
) -> Result<Vec<PersonDetail>, StoreError> {
    let ids: Vec<Uuid> = found.iter().map(|person| person.person_id).collect();
    type Name = (Uuid, String, String, String, String);
    let names: Vec<Name> = people::table
        .filter(people::site_id.eq(site_id))
        .filter(people::id.eq_any(&ids))
        .select((people::id, people::staff_number, people::given_name, people::family_name, people::unit))
        .load(conn)?;
    let mut names: HashMap<Uuid, Name> = names.into_iter().map(|name| (name.0, name)).collect();
    let mut clearances = clearances(conn, site_id, asked, &found, now)?;
    let mut entries = entries(conn, &found)?;
    let mut badges = badges_of(conn, site_id, &ids, now)?;
    let detail = |found: PersonFound| {
        let id = found.person_id;
        let (_, staff_number, given_name, family_name, unit) = names.remove(&id)?;
        Some(PersonDetail {
            found,
            staff_number,
            given_name,
            family_name,
            unit,
            clearances: clearances.remove(&id).unwrap_or_default(),
            entries: entries.remove(&id).unwrap_or_default(),
            badges: badges.remove(&id).unwrap_or_default(),
        })
    };
    Ok(found.into_iter().filter_map(detail).collect())
}

fn clearances(
    conn: &mut PgConnection,
    site_id: Uuid,
    asked: Asked,
    found: &[PersonFound],
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Vec<ClearanceDoubt>>, StoreError> {
    let ids: Vec<Uuid> = found.iter().map(|person| person.person_id).collect();
    let stops = stop::of_site(conn, site_id)?;
    let own: HashSet<Uuid> =
        stops.iter().filter(|stop| stop.asked == asked).map(|stop| stop.fact.stop).collect();
    let frame = clearance::frame(conn, site_id)?;
    let facts = clearance::load(conn, site_id, &ids)?;
    let respirator_ids: Vec<Uuid> = facts.keys().map(|(_, respirator)| *respirator).collect();
    let words = respirator_words(conn, &respirator_ids)?;
    let runs = found.iter().flat_map(|person| &person.runs);
    let affected: HashMap<Uuid, Certainty> = runs.map(|run| (run.id, run.verdict.certainty)).collect();
    let asking = Asking { frame, own, affected, now };
    let mut doubts: HashMap<Uuid, Vec<ClearanceDoubt>> = HashMap::new();
    for ((person, respirator_id), facts) in facts {
        let respirator = words.get(&respirator_id).cloned().unwrap_or_default();
        doubts.entry(person).or_default().push(asking.doubt((person, respirator_id), respirator, facts));
    }
    Ok(doubts)
}

struct Asking {
    frame: Frame,
    /// The stops of what is asked about.
    own: HashSet<Uuid>,
    affected: HashMap<Uuid, Certainty>,
    now: DateTime<Utc>,
}

impl Asking {
    fn doubt(
        &self,
        (_, respirator_id): Pair,
        respirator: String,
        facts: PersonRespiratorFacts,
    ) -> ClearanceDoubt {
        let now = self.clearance(&facts);
        let mut before = facts;
        for attempt in &mut before.attempts {
            attempt.stops.retain(|stop| !self.own.contains(&stop.stop));
        }
        let without_sure = self.held(&before, Certainty::Surely);
        let without_possible = self.held(&before, Certainty::Possibly);
        let before = self.clearance(&before);
        ClearanceDoubt { respirator_id, respirator, before, now, without_sure, without_possible }
    }

    fn clearance(&self, facts: &PersonRespiratorFacts) -> Clearance {
        let known_at = DateTime::<Utc>::MAX_UTC;
        self.frame.clearance(facts, Moments { at: self.now, known_at })
    }

    /// As if what is asked about were stopped, with the attempts held that are affected at least so surely.
    fn held(&self, facts: &PersonRespiratorFacts, at_least: Certainty) -> Clearance {
        let mut facts = facts.clone();
        let stop = StopFact {
            stop: Uuid::nil(),
            of_lot: false,
            recorded_at: DateTime::<Utc>::MIN_UTC,
            released_recorded_at: None,
        };
        for attempt in &mut facts.attempts {
            if self.affected.get(&attempt.id).is_some_and(|certainty| *certainty >= at_least) {
                attempt.stops.push(stop);
            }
        }
        self.clearance(&facts)
    }
}

fn respirator_words(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, String>, StoreError> {
    type Row = (Uuid, String, String, String, String);
    let rows: Vec<Row> = respirators::table
        .filter(respirators::id.eq_any(ids))
        .select((
            respirators::id,
            respirators::make,
            respirators::model,
            respirators::style,
            respirators::size,
        ))
        .load(conn)?;
    let words = |(id, make, model, style, size): Row| {
        let words = [make, model, style, size].into_iter().filter(|word| !word.is_empty());
        (id, words.collect::<Vec<_>>().join(" "))
    };
    Ok(rows.into_iter().map(words).collect())
}

#[derive(QueryableByName)]
struct EntryRow {
    #[diesel(sql_type = SqlUuid)]
    person_id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    gate_id: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = BigInt)]
    count: i64,
    #[diesel(sql_type = Timestamptz)]
    last_at: DateTime<Utc>,
}

/// Entries since the end of the first pass that is in doubt.
const ENTRIES: &str = "\
select q.person_id, g.id as gate_id, g.name, count(*) as count, max(s.happened_at) as last_at \
from unnest($1, $2) as q(person_id, since) \
join badges b on b.person_id = q.person_id \
join scans s on s.badge_id = b.id and s.happened_at >= q.since and s.answer = 'enter' and s.repeats_at is null \
join gates g on g.id = s.gate_id \
group by q.person_id, g.id, g.name order by g.name, g.id";

fn entries(
    conn: &mut PgConnection,
    found: &[PersonFound],
) -> Result<HashMap<Uuid, Vec<GateEntries>>, StoreError> {
    let since = found.iter().filter_map(|person| {
        let doubtful = person.runs.iter();
        let doubtful = doubtful.filter(|run| run.counts() && run.verdict.certainty > Certainty::NotAffected);
        Some((person.person_id, doubtful.filter_map(|run| run.ended_at).min()?))
    });
    let (people, since): (Vec<Uuid>, Vec<DateTime<Utc>>) = since.unzip();
    let mut entries: HashMap<Uuid, Vec<GateEntries>> = HashMap::new();
    if people.is_empty() {
        return Ok(entries);
    }
    let rows = diesel::sql_query(ENTRIES)
        .bind::<Array<SqlUuid>, _>(people)
        .bind::<Array<Timestamptz>, _>(since)
        .load::<EntryRow>(conn)?;
    for EntryRow { person_id, gate_id, name, count, last_at } in rows {
        entries.entry(person_id).or_default().push(GateEntries { gate_id, name, count, last_at });
    }
    Ok(entries)
}

fn badges_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    people: &[Uuid],
    now: DateTime<Utc>,
) -> Result<BTreeMap<Uuid, Vec<BadgeHeld>>, StoreError> {
    let rows: Vec<(Uuid, Uuid, String)> = badges::table
        .left_join(badge_endings::table)
        .filter(badges::site_id.eq(site_id))
        .filter(badges::person_id.eq_any(people))
        .filter(badges::expires_at.gt(now))
        .filter(badge_endings::id.is_null())
        .order(badges::id)
        .select((badges::person_id, badges::id, badges::serial))
        .load(conn)?;
    let mut found: BTreeMap<Uuid, Vec<BadgeHeld>> = BTreeMap::new();
    for (person, badge_id, serial) in rows {
        found.entry(person).or_default().push(BadgeHeld { badge_id, serial });
    }
    Ok(found)
}
