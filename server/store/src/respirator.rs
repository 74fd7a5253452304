//! Respirators: what people are tested on, one make, model, style and size each.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    respirator::{AirSupply, Facepiece},
};
use uuid::Uuid;

use crate::{
    Added, StoreError, TextList, Tx, insert_once, on_constraint,
    schema::{
        respirator_changes,
        respirators::{self, dsl},
    },
    site,
    stored::word,
};

/// One respirator as stored.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = respirators, check_for_backend(diesel::pg::Pg))]
pub struct Respirator {
    /// Its id.
    pub id: Uuid,
    /// Its short number at the site, from 1.
    pub number: i32,
    /// Who makes it.
    pub make: String,
    /// Its model.
    pub model: String,
    /// Its style within the model.
    pub style: String,
    /// Its size.
    pub size: String,
    /// The word for what it covers.
    pub facepiece: String,
    /// Its filter class.
    pub filter_class: String,
    /// The word for how the wearer gets air; none where the wearer's own breath draws it.
    pub air_supply: Option<String>,
    /// The number it was approved under.
    pub approval_number: Option<String>,
    /// How much it is expected to protect.
    pub protection_factor: i32,
    /// When the site stopped using it.
    pub retired_at: Option<DateTime<Utc>>,
    /// Counts the changes.
    pub version: i32,
    /// When it was added.
    pub created_at: DateTime<Utc>,
    /// What people call it besides, if anything.
    pub other_names: Option<TextList>,
}

impl Respirator {
    /// What it covers.
    pub fn facepiece(&self) -> Result<Facepiece, StoreError> {
        word(&self.facepiece)
    }

    /// How the wearer gets air.
    pub fn air_supply(&self) -> Result<AirSupply, StoreError> {
        self.air_supply.as_deref().map_or(Ok(AirSupply::AirPurifying), word)
    }
}

/// A respirator to be added.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = respirators, check_for_backend(diesel::pg::Pg))]
pub struct NewRespirator {
    /// Its id.
    pub id: Uuid,
    /// The site that uses it.
    pub site_id: Uuid,
    /// Who makes it.
    pub make: String,
    /// Its model.
    pub model: String,
    /// Its style within the model.
    pub style: String,
    /// Its size.
    pub size: String,
    /// The word for what it covers.
    pub facepiece: String,
    /// Its filter class.
    pub filter_class: String,
    /// The word for how the wearer gets air; none where the wearer's own breath draws it.
    pub air_supply: Option<String>,
    /// The number it was approved under.
    pub approval_number: Option<String>,
    /// How much it is expected to protect.
    pub protection_factor: i32,
    /// What people call it besides, if anything.
    pub other_names: Option<TextList>,
}

/// What may change about a respirator. What makes it the one it is may not: attempts were made on it.
#[derive(Debug, Clone, AsChangeset)]
#[diesel(table_name = respirators)]
pub struct RespiratorChange {
    /// Its filter class.
    pub filter_class: Option<String>,
    /// The number it was approved under, or none.
    pub approval_number: Option<Option<String>>,
    /// What people call it besides, or nothing.
    pub other_names: Option<Option<TextList>>,
    /// Whether the site stopped using it.
    #[diesel(skip_update)]
    pub retired: Option<bool>,
}

/// A page of the site's respirators: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Respirator>, StoreError> {
    Ok(dsl::respirators
        .filter(dsl::site_id.eq(site_id))
        .filter(dsl::id.gt(after))
        .order(dsl::id)
        .limit(limit)
        .select(Respirator::as_select())
        .load(conn)?)
}

/// A respirator of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Respirator, StoreError> {
    let found = dsl::respirators
        .find(id)
        .filter(dsl::site_id.eq(site_id))
        .select(Respirator::as_select())
        .first(conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("respirator"))
}

/// Adds a respirator under the site's next number.
pub fn create(tx: &mut Tx<'_>, new: &NewRespirator) -> Result<Respirator, StoreError> {
    // Two at once would otherwise take the same next number.
    site::lock(tx)?;
    let next = dsl::respirators
        .filter(dsl::site_id.eq(new.site_id))
        .select(diesel::dsl::max(dsl::number))
        .first::<Option<i32>>(tx.conn)?
        .map_or(1, |last| last + 1);
    let added = insert_once(tx.conn, new, |conn, new| insert(conn, new, next), |conn| stored(conn, new))?;
    if added == Added::Now {
        tx.touched("respirators", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

fn insert(conn: &mut PgConnection, new: &NewRespirator, number: i32) -> Result<usize, StoreError> {
    let made = diesel::insert_into(dsl::respirators)
        .values((new, dsl::number.eq(number)))
        .on_conflict(dsl::id)
        .do_nothing()
        .execute(conn);
    on_constraint(made, "respirators_known_already", || {
        let sentence = "This make, model, style and size is already in the list.";
        Refusal::new(Code::AlreadyExists, sentence).field("size")
    })
}

fn stored(conn: &mut PgConnection, new: &NewRespirator) -> QueryResult<Option<NewRespirator>> {
    dsl::respirators
        .find(new.id)
        .filter(dsl::site_id.eq(new.site_id))
        .select(NewRespirator::as_select())
        .first(conn)
        .optional()
}

/// One line of the list, as far as a class of respirators depends on it.
#[derive(Debug, Clone, Queryable)]
pub(crate) struct ListLine {
    pub(crate) id: Uuid,
    pub(crate) facepiece: String,
    pub(crate) filter_class: String,
    pub(crate) retired_at: Option<DateTime<Utc>>,
}

/// The list of the site as it read at a moment, by number.
pub(crate) fn listed_at(
    conn: &mut PgConnection,
    site_id: Uuid,
    known_at: DateTime<Utc>,
) -> Result<Vec<ListLine>, StoreError> {
    let mut lines: Vec<ListLine> = dsl::respirators
        .filter(dsl::site_id.eq(site_id))
        .filter(dsl::created_at.le(known_at))
        .order(dsl::number)
        .select((dsl::id, dsl::facepiece, dsl::filter_class, dsl::retired_at))
        .load(conn)?;
    // What a line was until the first change after that moment is what it was then.
    let changed: Vec<(Uuid, String, Option<DateTime<Utc>>)> = respirator_changes::table
        .filter(respirator_changes::site_id.eq(site_id))
        .filter(respirator_changes::recorded_at.gt(known_at))
        .distinct_on(respirator_changes::respirator_id)
        .order((respirator_changes::respirator_id, respirator_changes::recorded_at, respirator_changes::id))
        .select((
            respirator_changes::respirator_id,
            respirator_changes::filter_class,
            respirator_changes::retired_at,
        ))
        .load(conn)?;
    for (id, filter_class, retired_at) in changed {
        if let Some(line) = lines.iter_mut().find(|line| line.id == id) {
            (line.filter_class, line.retired_at) = (filter_class, retired_at);
        }
    }
    Ok(lines)
}

/// Keeps what a respirator was listed as until now.
fn keep(tx: &mut Tx<'_>, before: &Respirator) -> Result<(), StoreError> {
    let id = Uuid::now_v7();
    diesel::insert_into(respirator_changes::table)
        .values((
            respirator_changes::id.eq(id),
            respirator_changes::site_id.eq(tx.site_id()),
            respirator_changes::respirator_id.eq(before.id),
            respirator_changes::filter_class.eq(&before.filter_class),
            respirator_changes::retired_at.eq(before.retired_at),
            respirator_changes::recorded_at.eq(tx.now),
            respirator_changes::recorded_by.eq(tx.actor.id),
        ))
        .execute(tx.conn)?;
    tx.touched("respirator_changes", id);
    Ok(())
}

/// Changes a respirator, unless somebody changed it since `version`.
pub fn update(
    tx: &mut Tx<'_>,
    id: Uuid,
    version: i32,
    change: &RespiratorChange,
) -> Result<Respirator, StoreError> {
    let site_id = tx.site_id();
    let before = find(tx.conn, site_id, id)?;
    let changed = diesel::update(
        dsl::respirators.find(id).filter(dsl::site_id.eq(site_id)).filter(dsl::version.eq(version)),
    )
    .set((change, dsl::version.eq(dsl::version + 1)))
    .execute(tx.conn)?;
    if changed == 0 {
        return Err(site::stale(version, before.version).into());
    }
    keep(tx, &before)?;
    if let Some(retired) = change.retired {
        // Said twice, it keeps the time at which it was said first.
        let since = retired.then(|| before.retired_at.unwrap_or(tx.now));
        diesel::update(dsl::respirators.find(id)).set(dsl::retired_at.eq(since)).execute(tx.conn)?;
    }
    tx.touched("respirators", id);
    find(tx.conn, site_id, id)
}
