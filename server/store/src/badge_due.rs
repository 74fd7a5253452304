//! Who is ready on a day and needs a badge: worked out from what holds, never kept.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::{BadgeNeed, HoldReason, need},
    day::VisitStep,
};
use uuid::Uuid;

use crate::{
    StoreError,
    badge::{self, Standing, contents_now, in_force},
    day,
    person::whole_name,
    schema::{badge_batch_outcomes, badge_batch_people, badge_batches, people, respirators, visits},
};

/// Somebody who needs a badge.
#[derive(Debug, Clone)]
pub struct Due {
    /// The visit.
    pub visit_id: Uuid,
    /// The number that the person was given on the day.
    pub ticket: i32,
    /// The person.
    pub person_id: Uuid,
    /// Their name, as it would be printed.
    pub name: String,
    /// Their staff number.
    pub staff_number: String,
    /// Where they work.
    pub unit: String,
    /// Why a badge is needed.
    pub need: BadgeNeed,
    /// What would stand on it.
    pub respirators: Vec<DueRespirator>,
    /// The badge they have.
    pub badge_id: Option<Uuid>,
    /// Whether that one is under review, so that no other may be made.
    pub under_review: bool,
    /// The batch in which theirs is being made.
    pub batch_id: Option<Uuid>,
}

/// A respirator that would stand on a badge.
#[derive(Debug, Clone)]
pub struct DueRespirator {
    /// The respirator.
    pub respirator_id: Uuid,
    /// Make, model and style in words.
    pub name: String,
    /// The size in words.
    pub size: String,
    /// The last day covered.
    pub due_on: NaiveDate,
}

type Visitor = (Uuid, i32, Uuid, (String, String, String, String));

/// Everybody whose visit to the day has ended, who is cleared, and whose badge does not say so; in the order in which
/// they came.
pub fn of_day(
    conn: &mut PgConnection,
    (site_id, day_id): (Uuid, Uuid),
    now: DateTime<Utc>,
) -> Result<Vec<Due>, StoreError> {
    day::find(conn, site_id, day_id)?;
    let visitors: Vec<Visitor> = visits::table
        .inner_join(people::table)
        .filter(visits::site_id.eq(site_id))
        .filter(visits::day_id.eq(day_id))
        .filter(visits::step.eq_any([VisitStep::Done.as_str(), VisitStep::Referred.as_str()]))
        .order(visits::id)
        .select((
            visits::id,
            visits::ticket,
            people::id,
            (people::staff_number, people::given_name, people::family_name, people::unit),
        ))
        .load(conn)?;
    let ids: Vec<Uuid> = visitors.iter().map(|visitor| visitor.2).collect();
    let contents = contents_now(conn, site_id, &ids, now)?;
    let has = badges_of(conn, site_id, &ids, now)?;
    let in_batch = being_made(conn, &ids)?;
    let words = words_of(conn, site_id)?;
    let due = visitors.into_iter().filter_map(
        |(visit_id, ticket, person_id, (staff_number, given, family, unit))| {
            let now = contents.get(&person_id)?;
            let badge = has.get(&person_id);
            let need = need(badge.map(Standing::content).as_ref(), now)?;
            let respirators = now.lines.iter().map(|line| {
                let (name, size) = words.get(&line.respirator_id).cloned().unwrap_or_default();
                DueRespirator { respirator_id: line.respirator_id, name, size, due_on: line.due_on }
            });
            Some(Due {
                visit_id,
                ticket,
                person_id,
                name: whole_name(&given, &family),
                staff_number,
                unit,
                need,
                respirators: respirators.collect(),
                badge_id: badge.map(|standing| standing.badge.id),
                under_review: badge.is_some_and(is_under_review),
                batch_id: in_batch.get(&person_id).copied(),
            })
        },
    );
    Ok(due.collect())
}

fn is_under_review(standing: &Standing) -> bool {
    standing.holds.iter().any(|hold| hold.reason == HoldReason::UnderReview)
}

/// The badges that count, by person.
fn badges_of(
    conn: &mut PgConnection,
    site_id: Uuid,
    person_ids: &[Uuid],
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Standing>, StoreError> {
    let ids: Vec<Uuid> = in_force(conn, site_id, person_ids, now)?.into_values().collect();
    let found = badge::find_all(conn, site_id, &ids)?;
    Ok(found.into_iter().map(|standing| (standing.badge.person_id, standing)).collect())
}

/// The open batches in which badges of these people are still to be made.
fn being_made(conn: &mut PgConnection, person_ids: &[Uuid]) -> Result<HashMap<Uuid, Uuid>, StoreError> {
    let decided = badge_batch_outcomes::table
        .filter(badge_batch_outcomes::badge_batch_id.eq(badge_batch_people::badge_batch_id))
        .filter(badge_batch_outcomes::seq.eq(badge_batch_people::seq));
    let found: Vec<(Uuid, Uuid)> = badge_batch_people::table
        .inner_join(badge_batches::table)
        .filter(badge_batches::ended_at.is_null())
        .filter(badge_batch_people::person_id.eq_any(person_ids))
        .filter(diesel::dsl::not(diesel::dsl::exists(decided)))
        .select((badge_batch_people::person_id, badge_batches::id))
        .load(conn)?;
    Ok(found.into_iter().collect())
}

type Words = HashMap<Uuid, (String, String)>;

fn words_of(conn: &mut PgConnection, site_id: Uuid) -> Result<Words, StoreError> {
    let rows: Vec<(Uuid, String, String, String, String)> = respirators::table
        .filter(respirators::site_id.eq(site_id))
        .select((
            respirators::id,
            respirators::make,
            respirators::model,
            respirators::style,
            respirators::size,
        ))
        .load(conn)?;
    let words = |(id, make, model, style, size): (Uuid, String, String, String, String)| {
        (id, ([make, model, style].join(" ").trim().to_owned(), size))
    };
    Ok(rows.into_iter().map(words).collect())
}

/// The people of [`of_day`] whose badges can be made now, each once.
pub(crate) fn makeable(due: Vec<Due>) -> Vec<Due> {
    let mut seen = HashSet::new();
    let makeable = due.into_iter().filter(|due| due.batch_id.is_none() && !due.under_review);
    makeable.filter(|due| seen.insert(due.person_id)).collect()
}
