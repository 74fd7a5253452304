//! People: who is tested.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::{PgConnection, prelude::*, sql_types::Text};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    Added, StoreError, Tx, clearance, insert_once,
    schema::people::{self, dsl},
    site,
};

/// A name as it is printed and shown at gates.
pub(crate) fn whole_name(given: &str, family: &str) -> String {
    format!("{given} {family}").trim().to_owned()
}

/// One person as stored.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = people, check_for_backend(diesel::pg::Pg))]
pub struct Person {
    /// Their id.
    pub id: Uuid,
    /// Their number at the hospital: text, zeros kept.
    pub staff_number: String,
    /// Their given name; may be empty.
    pub given_name: String,
    /// Their family name; may be empty when there is a given name.
    pub family_name: String,
    /// Their birth date.
    pub birth_date: Option<NaiveDate>,
    /// Where they work; may be empty.
    pub unit: String,
    /// The word for whether they stand on the roster.
    pub kind: String,
    /// Who answers for a temporary person.
    pub sponsor: Option<String>,
    /// Their last day.
    pub left_on: Option<NaiveDate>,
    /// Counts the changes.
    pub version: i32,
    /// When they were added.
    pub created_at: DateTime<Utc>,
}

/// A person to be added.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = people, check_for_backend(diesel::pg::Pg))]
pub struct NewPerson {
    /// Their id.
    pub id: Uuid,
    /// The site they belong to.
    pub site_id: Uuid,
    /// Their number at the hospital.
    pub staff_number: String,
    /// Their given name.
    pub given_name: String,
    /// Their family name.
    pub family_name: String,
    /// Their birth date.
    pub birth_date: Option<NaiveDate>,
    /// Where they work.
    pub unit: String,
    /// The word for whether they stand on the roster.
    pub kind: String,
    /// Who answers for a temporary person.
    pub sponsor: Option<String>,
}

/// What may change about a person.
#[derive(Debug, Clone, Default, AsChangeset)]
#[diesel(table_name = people)]
pub struct PersonChange {
    /// Their number at the hospital.
    pub staff_number: Option<String>,
    /// Their given name.
    pub given_name: Option<String>,
    /// Their family name.
    pub family_name: Option<String>,
    /// Their birth date, or none.
    pub birth_date: Option<Option<NaiveDate>>,
    /// Where they work.
    pub unit: Option<String>,
    /// Who answers for a temporary person, or none.
    pub sponsor: Option<Option<String>>,
    /// Their last day, or none when they are back.
    pub left_on: Option<Option<NaiveDate>>,
}

/// Which people are looked for; an empty search is for everybody.
#[derive(Debug, Clone, Default)]
pub struct Search {
    /// Each word is the beginning of the staff number or a part of a name, in any case.
    pub words: Vec<String>,
    /// The whole staff number.
    pub staff_number: Option<String>,
}

/// A page of the site's people: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    search: &Search,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Person>, StoreError> {
    let mut query = dsl::people.filter(dsl::site_id.eq(site_id)).filter(dsl::id.gt(after)).into_boxed();
    if let Some(staff_number) = &search.staff_number {
        query = query.filter(dsl::staff_number.eq(staff_number));
    }
    for word in &search.words {
        // Functions, not LIKE: nothing in a word means anything but itself.
        let matches = diesel::dsl::sql::<diesel::sql_types::Bool>("(starts_with(staff_number, ")
            .bind::<Text, _>(word)
            .sql(") or strpos(lower(given_name || ' ' || family_name), lower(")
            .bind::<Text, _>(word)
            .sql(")) > 0)");
        query = query.filter(matches);
    }
    Ok(query.order(dsl::id).limit(limit).select(Person::as_select()).load(conn)?)
}

/// A person of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<Person, StoreError> {
    let found = dsl::people
        .find(id)
        .filter(dsl::site_id.eq(site_id))
        .select(Person::as_select())
        .first(conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("person"))
}

/// Adds a person who is on no roster.
pub fn create(tx: &mut Tx<'_>, new: &NewPerson) -> Result<Person, StoreError> {
    let added = insert_once(tx.conn, new, insert, |conn| {
        dsl::people
            .find(new.id)
            .filter(dsl::site_id.eq(new.site_id))
            .select(NewPerson::as_select())
            .first(conn)
            .optional()
    })?;
    if added == Added::Now {
        tx.touched("people", new.id);
    }
    find(tx.conn, new.site_id, new.id)
}

fn insert(conn: &mut PgConnection, new: &NewPerson) -> Result<usize, StoreError> {
    let made = diesel::insert_into(dsl::people).values(new).on_conflict(dsl::id).do_nothing().execute(conn);
    on_rules(made)
}

/// Changes a person, unless somebody changed them since `version`. A new last day changes their clearances.
pub fn update(tx: &mut Tx<'_>, id: Uuid, version: i32, change: &PersonChange) -> Result<Person, StoreError> {
    let site_id = tx.site_id();
    let before = find(tx.conn, site_id, id)?;
    let left = change.left_on.filter(|left_on| *left_on != before.left_on);
    let since = left.map(|left_on| left_on.map(|_| tx.now));
    let changed = diesel::update(
        dsl::people.find(id).filter(dsl::site_id.eq(site_id)).filter(dsl::version.eq(version)),
    )
    .set((change, since.map(|since| dsl::left_recorded_at.eq(since)), dsl::version.eq(dsl::version + 1)))
    .execute(tx.conn);
    let changed = on_rules(changed)?;
    let person = find(tx.conn, site_id, id)?;
    if changed == 0 {
        return Err(site::stale(version, person.version).into());
    }
    tx.touched("people", id);
    if left.is_some() {
        clearance::recompute_person(tx, id)?;
    }
    Ok(person)
}

/// The rules that the table holds about people, in words.
fn on_rules(result: QueryResult<usize>) -> Result<usize, StoreError> {
    let constraint = match &result {
        Err(diesel::result::Error::DatabaseError(_, info)) => info.constraint_name().unwrap_or_default(),
        _ => return result.map_err(StoreError::from),
    };
    let (code, field, sentence) = match constraint {
        "people_staff_number_taken" => {
            (Code::AlreadyExists, "staff_number", "Somebody with this staff number is already in the list.")
        }
        "people_temporary_has_sponsor" => {
            (Code::InvalidValue, "sponsor", "Name who answers for this temporary person.")
        }
        "people_name_blank" => (Code::InvalidValue, "family_name", "Give at least one name."),
        _ => return result.map_err(StoreError::from),
    };
    Err(Refusal::new(code, sentence).field(field).into())
}
