//! What somebody found who looked at an entry under a lead's name or at a pair of readings: with a name and a note, once.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once, on_constraint,
    schema::{lead_entry_reviews, twin_notice_reviews, users},
};

/// What was found, about to be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewReview {
    /// Its id.
    pub id: Uuid,
    /// What was found.
    pub note: String,
    /// When somebody looked.
    pub happened_at: DateTime<Utc>,
}

/// What was found by whoever looked.
#[derive(Debug, Clone)]
pub struct Review {
    /// Its id.
    pub id: Uuid,
    /// What was found.
    pub note: String,
    /// Who looked.
    pub reviewer_id: Uuid,
    /// What the screens call them.
    pub reviewer: String,
    /// When they looked.
    pub happened_at: DateTime<Utc>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
}

type Row = (Uuid, Uuid, String, Uuid, DateTime<Utc>, DateTime<Utc>);

/// The functions of one table of reviews: the two tables differ in what they are about and in nothing else.
macro_rules! reviews {
    ($of:ident, $create:ident, $table:ident, $about:ident, $taken:literal) => {
        /// The reviews of these, by what each is about.
        pub(crate) fn $of(
            conn: &mut PgConnection,
            about: &[Uuid],
        ) -> Result<HashMap<Uuid, Review>, StoreError> {
            let rows: Vec<Row> = $table::table
                .filter($table::$about.eq_any(about))
                .select((
                    $table::id,
                    $table::$about,
                    $table::note,
                    $table::recorded_by,
                    $table::happened_at,
                    $table::recorded_at,
                ))
                .load(conn)?;
            named(conn, rows)
        }

        /// Stores what was found about one of them.
        pub(crate) fn $create(tx: &mut Tx<'_>, about: Uuid, new: &NewReview) -> Result<(), StoreError> {
            let (site_id, now, by) = (tx.site_id(), tx.now, tx.actor.id);
            let added = insert_once(
                tx.conn,
                &(about, new.clone()),
                |conn, (about, new)| {
                    let made = diesel::insert_into($table::table)
                        .values((
                            $table::id.eq(new.id),
                            $table::site_id.eq(site_id),
                            $table::$about.eq(about),
                            $table::note.eq(&new.note),
                            $table::happened_at.eq(new.happened_at),
                            $table::recorded_at.eq(now),
                            $table::recorded_by.eq(by),
                        ))
                        .on_conflict($table::id)
                        .do_nothing()
                        .execute(conn);
                    on_constraint(made, $taken, || {
                        let sentence = "Somebody has looked at this already: read what was found.";
                        Refusal::new(Code::AlreadyReviewed, sentence)
                    })
                },
                |conn| {
                    let stored: Option<(Uuid, Uuid, String, DateTime<Utc>)> = $table::table
                        .find(new.id)
                        .filter($table::site_id.eq(site_id))
                        .select(($table::$about, $table::id, $table::note, $table::happened_at))
                        .first(conn)
                        .optional()?;
                    Ok(stored
                        .map(|(about, id, note, happened_at)| (about, NewReview { id, note, happened_at })))
                },
            )?;
            if added.is_new() {
                tx.touched(stringify!($table), new.id);
            }
            Ok(())
        }
    };
}

reviews!(
    of_lead_entries,
    create_of_lead_entry,
    lead_entry_reviews,
    lead_entry_id,
    "lead_entry_reviews_reviewed_already"
);
reviews!(
    of_twin_notices,
    create_of_twin_notice,
    twin_notice_reviews,
    twin_notice_id,
    "twin_notice_reviews_reviewed_already"
);

fn named(conn: &mut PgConnection, rows: Vec<Row>) -> Result<HashMap<Uuid, Review>, StoreError> {
    let reviewers: Vec<Uuid> = rows.iter().map(|row| row.3).collect();
    let names: HashMap<Uuid, String> = users::table
        .filter(users::id.eq_any(reviewers))
        .select((users::id, users::display_name))
        .load::<(Uuid, String)>(conn)?
        .into_iter()
        .collect();
    let review = |(id, about, note, reviewer_id, happened_at, recorded_at): Row| {
        let reviewer = names.get(&reviewer_id).cloned().unwrap_or_default();
        (about, Review { id, note, reviewer_id, reviewer, happened_at, recorded_at })
    };
    Ok(rows.into_iter().map(review).collect())
}
