//! Batches: the badges of everybody who is ready on a day. A batch is asked for once; some server makes the badges one
//! by one, and goes on where another one was stopped.

mod make;

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::LeftOut,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx,
    badge::{self, Standing},
    badge_due, day, insert_once,
    person::whole_name,
    schema::{badge_batch_outcomes, badge_batch_people, badge_batches, people},
    stored::word,
};

pub use make::{Made, Next, give_up, make, next};

/// Badges in one batch. Whoever is ready beyond that comes into the next one.
pub const PEOPLE_MAX: usize = 600;

/// A batch to be made.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_batches, check_for_backend(diesel::pg::Pg))]
pub struct NewBatch {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The day.
    pub day_id: Uuid,
    /// When it was asked for.
    pub happened_at: DateTime<Utc>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = badge_batches, check_for_backend(diesel::pg::Pg))]
struct Row {
    #[diesel(embed)]
    asked: NewBatch,
    recorded_at: DateTime<Utc>,
    recorded_by: Uuid,
    ended_at: Option<DateTime<Utc>>,
}

/// A batch, and how far it has come.
#[derive(Debug, Clone)]
pub struct Batch {
    /// What was asked for.
    pub asked: NewBatch,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
    /// Who asked.
    pub recorded_by: Uuid,
    /// When the last of its people had an outcome.
    pub ended_at: Option<DateTime<Utc>>,
    /// How many people are in it.
    pub people: i64,
    /// How many badges are made.
    pub made: i64,
    /// How many people were left out.
    pub left_out: i64,
}

/// One person of a batch.
#[derive(Debug, Clone)]
pub struct Item {
    /// Their number in the batch, from 1.
    pub seq: i32,
    /// The person.
    pub person_id: Uuid,
    /// Their name now.
    pub name: String,
    /// Their staff number.
    pub staff_number: String,
    /// What came of it; none while it is still to be made.
    pub outcome: Option<Outcome>,
}

/// What came of one person of a batch.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// A badge was made.
    Made(Box<Standing>),
    /// None was.
    LeftOut(LeftOut),
}

/// Takes everybody who is ready on the day and in no other batch. Of two who ask at once, the second finds nobody left.
pub fn create(tx: &mut Tx<'_>, new: &NewBatch) -> Result<Added, StoreError> {
    day::lock(tx, new.day_id)?;
    let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_batches::table)
                .values((new, badge_batches::recorded_at.eq(now), badge_batches::recorded_by.eq(by)))
                .on_conflict(badge_batches::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = badge_batches::table.find(new.id).filter(badge_batches::site_id.eq(site_id));
            stored.select(NewBatch::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        take_people(tx, new)?;
        tx.touched("badge_batches", new.id);
        tx.touched("badge_batch_people", new.id);
    }
    Ok(added)
}

fn take_people(tx: &mut Tx<'_>, new: &NewBatch) -> Result<(), StoreError> {
    let due = badge_due::of_day(tx.conn, (new.site_id, new.day_id), tx.now)?;
    let running = due.iter().find_map(|due| due.batch_id);
    let ready = badge_due::makeable(due);
    if ready.is_empty() {
        let sentence = match running {
            Some(_) => "The badges of everybody who is ready are being made already: look at that batch.",
            None => "Nobody of this day is ready and without a badge that says what holds.",
        };
        let mut refusal = Refusal::new(Code::NoBadgeDue, sentence).field("day_id");
        if let Some(batch_id) = running {
            refusal = refusal.fact("badge_batch_id", batch_id.to_string());
        }
        return Err(refusal.into());
    }
    let rows: Vec<_> = (1..)
        .zip(ready.iter().take(PEOPLE_MAX))
        .map(|(seq, due): (i32, _)| {
            (
                badge_batch_people::badge_batch_id.eq(new.id),
                badge_batch_people::seq.eq(seq),
                badge_batch_people::person_id.eq(due.person_id),
                badge_batch_people::recorded_at.eq(tx.now),
            )
        })
        .collect();
    diesel::insert_into(badge_batch_people::table).values(rows).execute(tx.conn)?;
    Ok(())
}

/// Batches of a site by id, those after `after`; only those of one day where one is named.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    day_id: Option<Uuid>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Batch>, StoreError> {
    let mut query = badge_batches::table
        .filter(badge_batches::site_id.eq(site_id))
        .filter(badge_batches::id.gt(after))
        .into_boxed();
    if let Some(day_id) = day_id {
        query = query.filter(badge_batches::day_id.eq(day_id));
    }
    let rows = query.order(badge_batches::id).limit(limit).select(Row::as_select()).load(conn)?;
    counted(conn, rows)
}

/// One batch of a site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Batch, StoreError> {
    let rows = badge_batches::table
        .find(id)
        .filter(badge_batches::site_id.eq(site_id))
        .select(Row::as_select())
        .load(conn)?;
    counted(conn, rows)?.pop().ok_or_else(|| StoreError::not_found("batch"))
}

fn counted(conn: &mut PgConnection, rows: Vec<Row>) -> Result<Vec<Batch>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.asked.id).collect();
    let people: HashMap<Uuid, i64> = badge_batch_people::table
        .filter(badge_batch_people::badge_batch_id.eq_any(&ids))
        .group_by(badge_batch_people::badge_batch_id)
        .select((badge_batch_people::badge_batch_id, diesel::dsl::count_star()))
        .load(conn)?
        .into_iter()
        .collect();
    let decided: HashMap<Uuid, (i64, i64)> = badge_batch_outcomes::table
        .filter(badge_batch_outcomes::badge_batch_id.eq_any(&ids))
        .group_by(badge_batch_outcomes::badge_batch_id)
        .select((
            badge_batch_outcomes::badge_batch_id,
            diesel::dsl::count(badge_batch_outcomes::badge_id),
            diesel::dsl::count(badge_batch_outcomes::left_out),
        ))
        .load::<(Uuid, i64, i64)>(conn)?
        .into_iter()
        .map(|(id, made, left_out)| (id, (made, left_out)))
        .collect();
    let batch = |row: Row| {
        let (made, left_out) = decided.get(&row.asked.id).copied().unwrap_or_default();
        Batch {
            people: people.get(&row.asked.id).copied().unwrap_or_default(),
            made,
            left_out,
            asked: row.asked,
            recorded_at: row.recorded_at,
            recorded_by: row.recorded_by,
            ended_at: row.ended_at,
        }
    };
    Ok(rows.into_iter().map(batch).collect())
}

type ItemRow = ((i32, Uuid), (String, String, String), (Option<Uuid>, Option<String>));

/// The people of a batch, in the order of printing.
pub fn items(conn: &mut PgConnection, site_id: Uuid, batch_id: Uuid) -> Result<Vec<Item>, StoreError> {
    let rows: Vec<ItemRow> = badge_batch_people::table
        .inner_join(people::table)
        .left_join(
            badge_batch_outcomes::table.on(badge_batch_outcomes::badge_batch_id
                .eq(badge_batch_people::badge_batch_id)
                .and(badge_batch_outcomes::seq.eq(badge_batch_people::seq))),
        )
        .filter(badge_batch_people::badge_batch_id.eq(batch_id))
        .filter(people::site_id.eq(site_id))
        .order(badge_batch_people::seq)
        .select((
            (badge_batch_people::seq, badge_batch_people::person_id),
            (people::given_name, people::family_name, people::staff_number),
            (badge_batch_outcomes::badge_id.nullable(), badge_batch_outcomes::left_out.nullable()),
        ))
        .load(conn)?;
    let ids: Vec<Uuid> = rows.iter().filter_map(|row| row.2.0).collect();
    let made = badge::find_all(conn, site_id, &ids)?;
    let mut made: HashMap<Uuid, Standing> =
        made.into_iter().map(|standing| (standing.badge.id, standing)).collect();
    rows.into_iter()
        .map(|((seq, person_id), (given, family, staff_number), (badge_id, left_out))| {
            let standing = badge_id.and_then(|id| made.remove(&id));
            let outcome = match (standing, left_out) {
                (Some(standing), _) => Some(Outcome::Made(Box::new(standing))),
                (None, Some(left_out)) => Some(Outcome::LeftOut(word(&left_out)?)),
                (None, None) => None,
            };
            Ok(Item { seq, person_id, name: whole_name(&given, &family), staff_number, outcome })
        })
        .collect()
}
