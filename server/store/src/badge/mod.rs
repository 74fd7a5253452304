//! Badges: one printed, signed code for one person, until it ends.

mod content;
mod ending;
mod issue;

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    badge::{BadgeLine, Content},
    clearance::ClearanceState,
    gate::BadgeStatus,
};
use uuid::Uuid;

use crate::{
    StoreError,
    badge_hold::{self, Hold},
    person::whole_name,
    schema::{
        badge_endings, badge_hand_overs, badge_reprints, badge_respirators, badges, clearances, people,
        respirators, visits,
    },
};

pub(crate) use content::{contents_now, in_force};
pub(crate) use ending::end_all_of_key;
pub use ending::{NewEnding, already_ended, end, lose};
pub(crate) use issue::lock_person;
pub use issue::{Draft, NewBadge, Signed, create};

/// The ending that issuing a newer badge gives the older one.
pub const REPLACED: &str = "replaced";

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
    /// The person's name when it was made; none on badges from before it was kept.
    pub printed_name: Option<String>,
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
    /// The person's name now. On the badge stands the one it was made with.
    pub name_now: String,
    /// Why it ended, when it did.
    pub ending: Option<String>,
    /// When it was handed to its person.
    pub handed_over_at: Option<DateTime<Utc>>,
    /// How often a badge of its person was made in place of another one.
    pub reprints: i64,
    /// The holds in force, oldest first.
    pub holds: Vec<Hold>,
    /// The respirators on it, the one with the latest due day first.
    pub respirators: Vec<BadgeRespirator>,
}

impl Standing {
    /// The name as printed.
    #[must_use]
    pub fn name(&self) -> &str {
        self.badge.printed_name.as_deref().unwrap_or(&self.name_now)
    }

    /// What stands on it.
    #[must_use]
    pub fn content(&self) -> Content {
        let line =
            |worn: &BadgeRespirator| BadgeLine { respirator_id: worn.respirator_id, due_on: worn.due_on };
        Content { name: self.badge.printed_name.clone(), lines: self.respirators.iter().map(line).collect() }
    }

    /// Its stored status.
    #[must_use]
    pub fn status(&self) -> BadgeStatus {
        match self.ending.as_deref() {
            Some(REPLACED) => BadgeStatus::Replaced,
            Some(_) => BadgeStatus::Ended,
            None if !self.holds.is_empty() => BadgeStatus::Held,
            None => BadgeStatus::Valid,
        }
    }
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

/// The badge with a serial, when the site has one.
pub fn with_serial(
    conn: &mut PgConnection,
    site_id: Uuid,
    serial: &str,
) -> Result<Option<Standing>, StoreError> {
    let found = badges::table.filter(badges::site_id.eq(site_id)).filter(badges::serial.eq(serial));
    let found: Vec<Badge> = found.select(Badge::as_select()).load(conn)?;
    Ok(standings(conn, found)?.pop())
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
        .filter(people::id.eq_any(&people_ids))
        .select((people::id, people::given_name, people::family_name))
        .load(conn)?;
    let names: HashMap<Uuid, String> =
        names.into_iter().map(|(id, given, family)| (id, whole_name(&given, &family))).collect();
    let endings: HashMap<Uuid, String> = badge_endings::table
        .filter(badge_endings::badge_id.eq_any(&ids))
        .select((badge_endings::badge_id, badge_endings::reason))
        .load(conn)?
        .into_iter()
        .collect();
    let handed_over: HashMap<Uuid, DateTime<Utc>> = badge_hand_overs::table
        .filter(badge_hand_overs::badge_id.eq_any(&ids))
        .select((badge_hand_overs::badge_id, badge_hand_overs::happened_at))
        .load(conn)?
        .into_iter()
        .collect();
    let reprints: HashMap<Uuid, i64> = badge_reprints::table
        .inner_join(badges::table.on(badges::id.eq(badge_reprints::badge_id)))
        .filter(badges::person_id.eq_any(&people_ids))
        .group_by(badges::person_id)
        .select((badges::person_id, diesel::dsl::count_star()))
        .load(conn)?
        .into_iter()
        .collect();
    let mut holds = badge_hold::in_force(conn, &ids)?;
    let mut worn = respirators_of(conn, &ids)?;
    Ok(found
        .into_iter()
        .map(|badge| Standing {
            name_now: names.get(&badge.person_id).cloned().unwrap_or_default(),
            handed_over_at: handed_over.get(&badge.id).copied(),
            reprints: reprints.get(&badge.person_id).copied().unwrap_or_default(),
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
