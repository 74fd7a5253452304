//! Badges: one printed, signed code for one person, until it ends.

mod issue;

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    clearance::ClearanceState,
    refusal::{Code, Refusal},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx,
    badge_hold::{self, Hold},
    insert_once, on_constraint,
    schema::{badge_endings, badge_respirators, badges, clearances, people, respirators, visits},
};

pub use issue::{Draft, NewBadge, Signed, create};

/// The ending that issuing a newer badge gives the older one.
pub const REPLACED: &str = "replaced";

/// The ending that a badge gets when it was taken back, or when the key that signed it was.
const WITHDRAWN: &str = "withdrawn";

/// A badge as issued.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = badges, check_for_backend(diesel::pg::Pg))]
pub struct Badge {
    /// Its id.
    pub id: Uuid,
    /// Whose it is.
    pub person_id: Uuid,
    /// Its serial: ten characters without a dash.
    pub serial: String,
    /// The text of its printed code.
    pub code: String,
    /// The first moment at which it no longer holds.
    pub expires_at: DateTime<Utc>,
    /// When it was asked for.
    pub happened_at: DateTime<Utc>,
    /// When it was stored.
    pub recorded_at: DateTime<Utc>,
}

/// From when until when something holds.
type Span = (Option<DateTime<Utc>>, Option<DateTime<Utc>>);

/// One respirator of a badge, and how the person's clearance for it is now.
#[derive(Debug, Clone)]
pub struct BadgeRespirator {
    /// The respirator.
    pub respirator_id: Uuid,
    /// Make, model and style in words.
    pub name: String,
    /// The size in words.
    pub size: String,
    /// The last day the clearance covered when the badge was issued.
    pub due_on: NaiveDate,
    /// The clearance as it is now, and the span in which it holds; none where nothing is known.
    pub clearance: Option<(ClearanceState, Span)>,
}

impl BadgeRespirator {
    /// Whether the clearance is in this state at that moment.
    #[must_use]
    pub fn is(&self, state: ClearanceState, at: DateTime<Utc>) -> bool {
        self.clearance.is_some_and(|(stored, (from, until))| {
            stored == state && from.is_some_and(|from| from <= at) && until.is_some_and(|until| at < until)
        })
    }
}

/// A badge with all that decides what it is worth.
#[derive(Debug, Clone)]
pub struct Standing {
    /// The badge.
    pub badge: Badge,
    /// The person's name.
    pub name: String,
    /// Why it ended, when it did.
    pub ending: Option<String>,
    /// The holds in force, oldest first.
    pub holds: Vec<Hold>,
    /// The respirators on it, the one with the latest due day first.
    pub respirators: Vec<BadgeRespirator>,
}

/// Which badges a list shows.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// Only this person's.
    pub person_id: Option<Uuid>,
    /// Only those of people who visit this day.
    pub day_id: Option<Uuid>,
}

/// Badges of a site by id, those after `after`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    filter: Filter,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Standing>, StoreError> {
    let mut query =
        badges::table.filter(badges::site_id.eq(site_id)).filter(badges::id.gt(after)).into_boxed();
    if let Some(person_id) = filter.person_id {
        query = query.filter(badges::person_id.eq(person_id));
    }
    if let Some(day_id) = filter.day_id {
        let visiting = visits::table
            .filter(visits::site_id.eq(site_id))
            .filter(visits::day_id.eq(day_id))
            .select(visits::person_id);
        query = query.filter(badges::person_id.eq_any(visiting));
    }
    let found = query.order(badges::id).limit(limit).select(Badge::as_select()).load(conn)?;
    standings(conn, found)
}

/// One badge of a site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Standing, StoreError> {
    let mut found = find_all(conn, site_id, &[id])?;
    found.pop().ok_or_else(|| StoreError::not_found("badge"))
}

/// The badges with these ids, in the order asked for. One that is not of the site is an error.
pub fn find_all(conn: &mut PgConnection, site_id: Uuid, ids: &[Uuid]) -> Result<Vec<Standing>, StoreError> {
    let found = badges::table
        .filter(badges::site_id.eq(site_id))
        .filter(badges::id.eq_any(ids))
        .select(Badge::as_select())
        .load(conn)?;
    let mut by_id: HashMap<Uuid, Standing> =
        standings(conn, found)?.into_iter().map(|standing| (standing.badge.id, standing)).collect();
    ids.iter().map(|id| by_id.remove(id).ok_or_else(|| StoreError::not_found("badge"))).collect()
}

type RespiratorRow = (
    (Uuid, Uuid, NaiveDate),
    (String, String, String, String),
    Option<(String, Option<DateTime<Utc>>, Option<DateTime<Utc>>)>,
);

/// Adds names, endings and respirators, with one query each however many badges there are.
fn standings(conn: &mut PgConnection, found: Vec<Badge>) -> Result<Vec<Standing>, StoreError> {
    let ids: Vec<Uuid> = found.iter().map(|badge| badge.id).collect();
    let people_ids: Vec<Uuid> = found.iter().map(|badge| badge.person_id).collect();
    let names: Vec<(Uuid, String, String)> = people::table
        .filter(people::id.eq_any(people_ids))
        .select((people::id, people::given_name, people::family_name))
        .load(conn)?;
    let names: HashMap<Uuid, String> = names
        .into_iter()
        .map(|(id, given, family)| (id, format!("{given} {family}").trim().to_owned()))
        .collect();
    let endings: HashMap<Uuid, String> = badge_endings::table
        .filter(badge_endings::badge_id.eq_any(&ids))
        .select((badge_endings::badge_id, badge_endings::reason))
        .load(conn)?
        .into_iter()
        .collect();
    let mut holds = badge_hold::in_force(conn, &ids)?;
    let mut worn = respirators_of(conn, &ids)?;
    Ok(found
        .into_iter()
        .map(|badge| Standing {
            name: names.get(&badge.person_id).cloned().unwrap_or_default(),
            ending: endings.get(&badge.id).cloned(),
            holds: holds.remove(&badge.id).unwrap_or_default(),
            respirators: worn.remove(&badge.id).unwrap_or_default(),
            badge,
        })
        .collect())
}

fn respirators_of(
    conn: &mut PgConnection,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, Vec<BadgeRespirator>>, StoreError> {
    let rows: Vec<RespiratorRow> = badge_respirators::table
        .inner_join(badges::table)
        .inner_join(respirators::table)
        .left_join(
            clearances::table.on(clearances::person_id
                .eq(badges::person_id)
                .and(clearances::respirator_id.eq(badge_respirators::respirator_id))),
        )
        .filter(badge_respirators::badge_id.eq_any(ids))
        .order((badge_respirators::badge_id, badge_respirators::due_on.desc(), respirators::number))
        .select((
            (badge_respirators::badge_id, badge_respirators::respirator_id, badge_respirators::due_on),
            (respirators::make, respirators::model, respirators::style, respirators::size),
            (clearances::state, clearances::valid_from, clearances::valid_until).nullable(),
        ))
        .load(conn)?;
    let mut found: HashMap<Uuid, Vec<BadgeRespirator>> = HashMap::new();
    for ((badge_id, respirator_id, due_on), (make, model, style, size), clearance) in rows {
        let clearance = match clearance {
            Some((state, from, until)) => {
                let state = state
                    .parse()
                    .map_err(|_| StoreError::internal(format!("a clearance has the state {state:?}")))?;
                Some((state, (from, until)))
            }
            None => None,
        };
        let name = [make, model, style].join(" ").trim().to_owned();
        let worn = BadgeRespirator { respirator_id, name, size, due_on, clearance };
        found.entry(badge_id).or_default().push(worn);
    }
    Ok(found)
}

/// The end of a badge.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = badge_endings, check_for_backend(diesel::pg::Pg))]
pub struct NewEnding {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// Which badge ends.
    pub badge_id: Uuid,
    /// Why.
    pub reason: String,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// Ends badges of which some may be ending in this instant for a reason of their own; that stands. Returns how many.
fn end_many(
    tx: &mut Tx<'_>,
    badge_ids: &[Uuid],
    reason: &str,
    happened_at: DateTime<Utc>,
) -> Result<usize, StoreError> {
    let mut ended = 0;
    // A statement has room for 65535 values.
    for some in badge_ids.chunks(5000) {
        let rows: Vec<_> = some
            .iter()
            .map(|badge_id| {
                (
                    badge_endings::id.eq(Uuid::now_v7()),
                    badge_endings::site_id.eq(tx.site_id()),
                    badge_endings::badge_id.eq(*badge_id),
                    badge_endings::reason.eq(reason),
                    badge_endings::happened_at.eq(happened_at),
                    badge_endings::recorded_at.eq(tx.now),
                    badge_endings::recorded_by.eq(tx.actor.id),
                )
            })
            .collect();
        let made: Vec<Uuid> = diesel::insert_into(badge_endings::table)
            .values(rows)
            .on_conflict_do_nothing()
            .returning(badge_endings::id)
            .get_results(tx.conn)?;
        ended += made.len();
        made.into_iter().for_each(|id| tx.touched("badge_endings", id));
    }
    Ok(ended)
}

/// Ends every badge that was signed with a key and has not ended yet; returns how many.
pub(crate) fn end_all_of_key(tx: &mut Tx<'_>, signing_key_id: Uuid) -> Result<usize, StoreError> {
    let signed: Vec<Uuid> = badges::table
        .left_join(badge_endings::table)
        .filter(badges::signing_key_id.eq(signing_key_id))
        .filter(badge_endings::id.is_null())
        .order(badges::id)
        .select(badges::id)
        .load(tx.conn)?;
    let now = tx.now;
    end_many(tx, &signed, WITHDRAWN, now)
}

/// Ends a badge for good.
pub fn end(tx: &mut Tx<'_>, new: &NewEnding) -> Result<Added, StoreError> {
    let site_id = tx.site_id();
    find(tx.conn, site_id, new.badge_id)?;
    let (now, by) = (tx.now, tx.actor.id);
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(badge_endings::table)
                .values((new, badge_endings::recorded_at.eq(now), badge_endings::recorded_by.eq(by)))
                .on_conflict(badge_endings::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "badge_endings_ended_already", already_ended)
        },
        |conn| {
            badge_endings::table
                .find(new.id)
                .filter(badge_endings::site_id.eq(site_id))
                .select(NewEnding::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("badge_endings", new.id);
    }
    Ok(added)
}

/// The refusal to do anything more with a badge that has ended.
#[must_use]
pub fn already_ended() -> Refusal {
    Refusal::new(Code::BadgeAlreadyEnded, "This badge has ended already: issue a new one.")
}
