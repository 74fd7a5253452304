//! A roster file against the people stored, in one statement however long the file is.
//!
//! The file travels as arrays, one for each column: no temporary table, so that a preview can run in a transaction
//! that may only read.

use chrono::NaiveDate;
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{Array, Bool, Date, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use super::{Counts, Roster};
use crate::{StoreError, Tx, on_constraint};

/// The file beside what is stored. `$1` is the site, `$2` to `$8` the columns, `$9` to `$11` which of them it has.
const MERGED: &str = "
with file as materialized (
    select * from unnest($2::uuid[], $3::text[], $4::text[], $5::text[], $6::date[], $7::text[], $8::date[])
        as f (new_id, staff_number, given_name, family_name, birth_date, unit, left_on)
), wanted as (
    select f.new_id, f.staff_number, f.given_name, f.family_name,
           case when $9 then f.birth_date else p.birth_date end as birth_date,
           case when $10 then f.unit else coalesce(p.unit, '') end as unit,
           case when $11 then f.left_on else p.left_on end as left_on,
           p.id as person_id, p.given_name as was_given_name, p.family_name as was_family_name,
           p.birth_date as was_birth_date, p.unit as was_unit, p.left_on as was_left_on,
           p.kind = 'staff' and p.left_on is null as was_expected
    from file f left join people p on p.site_id = $1 and p.staff_number = f.staff_number
), merged as (
    select *, person_id is null as is_new,
           person_id is not null and left_on is distinct from was_left_on as leaving,
           person_id is not null
               and (given_name, family_name, birth_date, unit, left_on)
                   is distinct from (was_given_name, was_family_name, was_birth_date, was_unit, was_left_on)
               as changed
    from wanted
)";

/// Who is missing is found by subtraction, which is exact because no staff number stands twice on either side. Asking
/// for people without a line would leave the planner to compare each with each while it has no statistics yet.
const PLAN: &str = "
select (select count(*) from merged where is_new)::int as added_count,
       (select count(*) from merged where changed)::int as changed_count,
       (select count(*) from merged where not is_new and not changed)::int as unchanged_count,
       ((select count(*) from people where site_id = $1 and kind = 'staff' and left_on is null)
           - (select count(*) from merged where was_expected))::int as missing_count";

/// `$12` is now.
const APPLY: &str = ", changing as (
    update people p
    set given_name = m.given_name, family_name = m.family_name, birth_date = m.birth_date, unit = m.unit,
        left_on = m.left_on, version = p.version + 1,
        left_recorded_at = case when m.left_on is null then null when m.leaving then $12
                                else p.left_recorded_at end
    from merged m
    where p.id = m.person_id and m.changed
    returning p.id, m.leaving
), adding as (
    insert into people (id, site_id, staff_number, given_name, family_name, birth_date, unit, left_on,
                        left_recorded_at, created_at)
    select m.new_id, $1, m.staff_number, m.given_name, m.family_name, m.birth_date, m.unit, m.left_on,
           case when m.left_on is not null then $12 end, $12
    from merged m
    where m.is_new
    returning id
)
select id, leaving from changing
union all
select id, false from adding
order by id";

/// One person who was added or changed.
#[derive(Debug, Clone, Copy, QueryableByName)]
pub(super) struct Change {
    #[diesel(sql_type = SqlUuid)]
    pub(super) id: Uuid,
    /// Their last day changed, and with it their clearances.
    #[diesel(sql_type = Bool)]
    pub(super) leaving: bool,
}

/// The columns of a file.
struct Columns<'r> {
    staff_numbers: Vec<&'r str>,
    given_names: Vec<&'r str>,
    family_names: Vec<&'r str>,
    birth_dates: Vec<Option<NaiveDate>>,
    units: Vec<&'r str>,
    left_ons: Vec<Option<NaiveDate>>,
}

impl<'r> Columns<'r> {
    fn of(roster: &'r Roster) -> Self {
        let entries = || roster.entries.iter();
        Self {
            staff_numbers: entries().map(|entry| entry.staff_number.as_str()).collect(),
            given_names: entries().map(|entry| entry.given_name.as_str()).collect(),
            family_names: entries().map(|entry| entry.family_name.as_str()).collect(),
            birth_dates: entries().map(|entry| entry.birth_date).collect(),
            units: entries().map(|entry| entry.unit.as_str()).collect(),
            left_ons: entries().map(|entry| entry.left_on).collect(),
        }
    }
}

/// Binds `$1` to `$11`; a macro, because the type of a query grows with every value bound to it.
macro_rules! merged_query {
    ($rest:expr, $site_id:expr, $roster:expr, $columns:expr, $new_ids:expr) => {
        diesel::sql_query(format!("{MERGED}{}", $rest))
            .bind::<SqlUuid, _>($site_id)
            .bind::<Array<SqlUuid>, _>($new_ids)
            .bind::<Array<Text>, _>(&$columns.staff_numbers)
            .bind::<Array<Text>, _>(&$columns.given_names)
            .bind::<Array<Text>, _>(&$columns.family_names)
            .bind::<Array<Nullable<Date>>, _>(&$columns.birth_dates)
            .bind::<Array<Text>, _>(&$columns.units)
            .bind::<Array<Nullable<Date>>, _>(&$columns.left_ons)
            .bind::<Bool, _>($roster.has_birth_date)
            .bind::<Bool, _>($roster.has_unit)
            .bind::<Bool, _>($roster.has_left_on)
    };
}

/// What taking the roster would change.
pub(super) fn plan(conn: &mut PgConnection, site_id: Uuid, roster: &Roster) -> Result<Counts, StoreError> {
    let columns = Columns::of(roster);
    // No ids: nobody is added. The shorter array is filled up with nulls.
    let no_ids: Vec<Uuid> = Vec::new();
    Ok(merged_query!(PLAN, site_id, roster, columns, no_ids).get_result(conn)?)
}

/// Adds and changes people so that they are as the roster says, and names those it touched.
pub(super) fn apply(tx: &mut Tx<'_>, roster: &Roster) -> Result<Vec<Change>, StoreError> {
    let columns = Columns::of(roster);
    let new_ids: Vec<Uuid> = roster.entries.iter().map(|_| Uuid::now_v7()).collect();
    let query = merged_query!(APPLY, tx.site_id(), roster, columns, new_ids);
    let applied = query.bind::<Timestamptz, _>(tx.now).load(tx.conn);
    on_constraint(applied, "people_staff_number_taken", || {
        let sentence =
            "Somebody with a staff number of this file was added in this very moment: send the file again.";
        Refusal::new(Code::StaleVersion, sentence).field("staff_number")
    })
}
