//! Balances: what is where by the books. Sums over the ledger that the database makes; nothing here is ever stored.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{Array, BigInt, Bool, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::StoreError;

#[derive(QueryableByName)]
struct OnHand {
    #[diesel(sql_type = SqlUuid)]
    bottle_id: Uuid,
    #[diesel(sql_type = BigInt)]
    on_hand_ul: i64,
}

/// What is in each of these bottles now, in microlitres.
pub(crate) fn of_bottles(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, i64>, StoreError> {
    let rows: Vec<OnHand> = diesel::sql_query(
        "select distinct on (bottle_id) bottle_id, on_hand_ul from bottle_ledger where bottle_id = any($1)
         order by bottle_id, place_in_order desc, happened_at desc, recorded_at desc, id desc",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)?;
    Ok(rows.into_iter().map(|row| (row.bottle_id, row.on_hand_ul)).collect())
}

/// One entry in the ledger of a bottle.
#[derive(Debug, Clone, QueryableByName)]
pub struct BottleEntry {
    /// The row that the entry is: the bottle itself, a fill, or a movement.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// `receive`, `fill`, `discard`, `spill`, `prepare` or `count`.
    #[diesel(sql_type = Text)]
    pub movement: String,
    /// By how much it changed what is in the bottle, in microlitres; 0 for a count.
    #[diesel(sql_type = BigInt)]
    pub change_ul: i64,
    /// What was found by a count.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub counted_ul: Option<i64>,
    /// What is in the bottle afterwards by the books.
    #[diesel(sql_type = BigInt)]
    pub on_hand_ul: i64,
    /// By how much a count disagreed with the books; below zero where less was there.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub difference_ul: Option<i64>,
    /// When it happened.
    #[diesel(sql_type = Timestamptz)]
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// Who recorded it, by the name that is shown; none where it was a device or the program.
    #[diesel(sql_type = Nullable<Text>)]
    pub by: Option<String>,
    /// Why, of a movement.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
    /// Whether the volume is a guess.
    #[diesel(sql_type = Bool)]
    pub guessed: bool,
    /// What it was made into.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub prepared_lot_id: Option<Uuid>,
}

/// The ledger of one bottle, in the order in which it happened.
pub fn of_bottle(
    conn: &mut PgConnection,
    site_id: Uuid,
    bottle_id: Uuid,
) -> Result<Vec<BottleEntry>, StoreError> {
    Ok(diesel::sql_query(
        "select l.id, l.movement, l.change_ul, l.counted_ul, l.on_hand_ul, l.difference_ul, l.happened_at,
                l.recorded_at, u.display_name as by, m.reason, coalesce(m.guessed, false) as guessed,
                m.prepared_lot_id
         from bottle_ledger l left join bottle_movements m on m.id = l.id
         left join users u on u.id = l.recorded_by
         where l.bottle_id = $1 and l.site_id = $2
         order by l.place_in_order, l.happened_at, l.recorded_at, l.id",
    )
    .bind::<SqlUuid, _>(bottle_id)
    .bind::<SqlUuid, _>(site_id)
    .load(conn)?)
}

/// Where every microlitre of a lot of solution went.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Volumes {
    /// The lot.
    #[diesel(sql_type = SqlUuid)]
    pub lot_id: Uuid,
    /// What came in its bottles.
    #[diesel(sql_type = BigInt)]
    pub received_ul: i64,
    /// What is in its bottles now, by the books.
    #[diesel(sql_type = BigInt)]
    pub in_bottles_ul: i64,
    /// What was filled into nebulizers that hold it still.
    #[diesel(sql_type = BigInt)]
    pub in_nebulizers_ul: i64,
    /// What was filled and is gone from there: sprayed, or thrown away without being measured.
    #[diesel(sql_type = BigInt)]
    pub used_ul: i64,
    /// What was thrown away: from bottles, and from nebulizers where it was measured.
    #[diesel(sql_type = BigInt)]
    pub discarded_ul: i64,
    /// What was spilled.
    #[diesel(sql_type = BigInt)]
    pub spilled_ul: i64,
    /// What was taken to make another solution.
    #[diesel(sql_type = BigInt)]
    pub prepared_ul: i64,
    /// By how much counts disagreed; below zero where less was found than the books said.
    #[diesel(sql_type = BigInt)]
    pub difference_ul: i64,
}

impl Volumes {
    /// What does not add up: 0 as long as the ledger is whole.
    #[must_use]
    pub fn astray_ul(&self) -> i64 {
        let held = self.in_bottles_ul + self.in_nebulizers_ul;
        let gone = self.used_ul + self.discarded_ul + self.spilled_ul + self.prepared_ul;
        self.received_ul + self.difference_ul - held - gone
    }
}

/// Where every microlitre of these lots went. What was in a nebulizer counts for the bottle it came from.
pub fn of_lots(conn: &mut PgConnection, ids: &[Uuid]) -> Result<Vec<Volumes>, StoreError> {
    Ok(diesel::sql_query(
        "with moved as (
           select lot_id, sum(volume) filter (where movement = 'discard') as discarded,
                  sum(volume) filter (where movement = 'spill') as spilled,
                  sum(volume) filter (where movement = 'prepare') as prepared,
                  sum(difference_ul) as difference, sum(received) as received
           from (select lot_id, movement, -change_ul as volume, difference_ul,
                        case when movement = 'receive' then change_ul end as received
                 from bottle_ledger where bottle_id = any (array(
                   select id from bottles where lot_id = any($1)))) l group by lot_id
         ), held as (
           select lot_id, sum(on_hand_ul) as in_bottles from (
             select distinct on (bottle_id) lot_id, bottle_id, on_hand_ul from bottle_ledger
             where bottle_id = any (array(select id from bottles where lot_id = any($1)))
             order by bottle_id, place_in_order desc, happened_at desc, recorded_at desc, id desc) b group by lot_id
         ), filled as (
           select b.lot_id, sum(f.volume_ul) as filled,
                  sum(f.volume_ul) filter (where fill_is_in_nebulizer(f.id)) as inside,
                  sum(least(coalesce(e.discarded_ul, 0), f.volume_ul)) as thrown
           from fills f join bottles b on b.id = f.bottle_id left join fill_emptyings e on e.fill_id = f.id
           where b.lot_id = any($1) group by b.lot_id
         )
         select m.lot_id, m.received::bigint as received_ul, h.in_bottles::bigint as in_bottles_ul,
                coalesce(f.inside, 0)::bigint as in_nebulizers_ul,
                coalesce(f.filled - coalesce(f.inside, 0) - f.thrown, 0)::bigint as used_ul,
                (coalesce(m.discarded, 0) + coalesce(f.thrown, 0))::bigint as discarded_ul,
                coalesce(m.spilled, 0)::bigint as spilled_ul, coalesce(m.prepared, 0)::bigint as prepared_ul,
                coalesce(m.difference, 0)::bigint as difference_ul
         from moved m join held h using (lot_id) left join filled f using (lot_id) order by m.lot_id",
    )
    .bind::<Array<SqlUuid>, _>(ids)
    .load(conn)?)
}

/// Pieces of a lot at one place.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Pieces {
    /// The lot.
    #[diesel(sql_type = SqlUuid)]
    pub lot_id: Uuid,
    /// The place.
    #[diesel(sql_type = SqlUuid)]
    pub place_id: Uuid,
    /// What is there by the books; below zero where more was recorded as taken than was there.
    #[diesel(sql_type = BigInt)]
    pub on_hand: i64,
}

const PIECES: &str = "select distinct on (lot_id, place_id) lot_id, place_id, on_hand from piece_ledger";
const NEWEST: &str = "order by lot_id, place_id, happened_at desc, recorded_at desc, id desc";

/// The pieces of these lots, by place.
pub fn pieces_of_lots(conn: &mut PgConnection, ids: &[Uuid]) -> Result<Vec<Pieces>, StoreError> {
    let found = diesel::sql_query(format!("{PIECES} where lot_id = any($1) {NEWEST}"));
    Ok(found.bind::<Array<SqlUuid>, _>(ids).load(conn)?)
}

/// The pieces at a place, by lot.
pub fn pieces_at(conn: &mut PgConnection, place_id: Uuid) -> Result<Vec<Pieces>, StoreError> {
    let found = diesel::sql_query(format!("{PIECES} where place_id = $1 {NEWEST}"));
    Ok(found.bind::<SqlUuid, _>(place_id).load(conn)?)
}

/// One entry in the ledger of pieces.
#[derive(Debug, Clone, QueryableByName)]
pub struct PieceEntry {
    /// The movement.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The place it changed.
    #[diesel(sql_type = SqlUuid)]
    pub place_id: Uuid,
    /// What it was, as its word.
    #[diesel(sql_type = Text)]
    pub movement: String,
    /// By how much it changed what is there; 0 for a count.
    #[diesel(sql_type = BigInt)]
    pub change: i64,
    /// What was found by a count.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub counted: Option<i64>,
    /// What is there afterwards by the books.
    #[diesel(sql_type = BigInt)]
    pub on_hand: i64,
    /// By how much a count disagreed with the books.
    #[diesel(sql_type = Nullable<BigInt>)]
    pub difference: Option<i64>,
    /// When it happened.
    #[diesel(sql_type = Timestamptz)]
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// Who recorded it, by the name that is shown; none where it was a device or the program.
    #[diesel(sql_type = Nullable<Text>)]
    pub by: Option<String>,
    /// Who took them, by the name that is shown.
    #[diesel(sql_type = Nullable<Text>)]
    pub handed_to: Option<String>,
    /// Why.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
}

/// The ledger of one lot of pieces, place by place in the order in which it happened.
pub fn of_pieces(
    conn: &mut PgConnection,
    site_id: Uuid,
    lot_id: Uuid,
) -> Result<Vec<PieceEntry>, StoreError> {
    Ok(diesel::sql_query(
        "select l.id, l.place_id, l.movement, l.change, l.counted, l.on_hand, l.difference, l.happened_at,
                l.recorded_at, u.display_name as by, t.display_name as handed_to, m.reason
         from piece_ledger l left join piece_movements m on m.id = l.id
         left join users u on u.id = l.recorded_by left join users t on t.id = m.handed_to
         where l.lot_id = $1 and l.site_id = $2 order by l.place_id, l.happened_at, l.recorded_at, l.id",
    )
    .bind::<SqlUuid, _>(lot_id)
    .bind::<SqlUuid, _>(site_id)
    .load(conn)?)
}
