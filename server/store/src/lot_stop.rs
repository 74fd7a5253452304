//! Stops of lots and their releases: what was decided, by whom, and why.

use chrono::{DateTime, Utc};
use diesel::{
    PgConnection, QueryableByName,
    prelude::*,
    sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    StoreError, Tx, insert_once,
    look_back::{self, Asked},
    lot::{self, Lot, STOP},
    schema::{lot_marks, lots},
};

/// A stop or a release of a lot.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = lot_marks, check_for_backend(diesel::pg::Pg))]
pub struct NewLotMark {
    /// Its id.
    pub id: Uuid,
    /// The site.
    pub site_id: Uuid,
    /// The lot.
    pub lot_id: Uuid,
    /// `stop` or `release`.
    pub mark: String,
    /// Of a stop: `possibly` where it also holds what may stand on the lot; none where only what surely does.
    pub reach: Option<String>,
    /// Why, in words.
    pub reason: String,
    /// When it was decided.
    pub happened_at: DateTime<Utc>,
}

/// A stop of a lot with its release, as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct LotStop {
    /// Its id.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The lot.
    #[diesel(sql_type = SqlUuid)]
    pub lot_id: Uuid,
    /// The number of the lot.
    #[diesel(sql_type = Text)]
    pub lot_number: String,
    /// `possibly` where it also holds what may stand on the lot.
    #[diesel(sql_type = Nullable<Text>)]
    pub reach: Option<String>,
    /// Why.
    #[diesel(sql_type = Text)]
    pub reason: String,
    /// When it was decided.
    #[diesel(sql_type = Timestamptz)]
    pub happened_at: DateTime<Utc>,
    /// When the server learned of it.
    #[diesel(sql_type = Timestamptz)]
    pub recorded_at: DateTime<Utc>,
    /// Who decided, by the name that is shown; none where it was the program.
    #[diesel(sql_type = Nullable<Text>)]
    pub by: Option<String>,
    /// Its release, if it was released.
    #[diesel(embed)]
    pub release: LotReleased,
}

/// The release of a stop: all of it, or nothing.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct LotReleased {
    /// Its id.
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub release_id: Option<Uuid>,
    /// Why.
    #[diesel(sql_type = Nullable<Text>)]
    pub release_reason: Option<String>,
    /// When it was decided.
    #[diesel(sql_type = Nullable<Timestamptz>)]
    pub released_at: Option<DateTime<Utc>>,
    /// Who decided.
    #[diesel(sql_type = Nullable<Text>)]
    pub released_by: Option<String>,
}

/// The stops of one lot or of all, by id. A release ends every stop of the lot that was stored before it.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    lot_id: Option<Uuid>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<LotStop>, StoreError> {
    Ok(diesel::sql_query(
        "select s.id, s.lot_id, l.lot_number, s.reach, s.reason, s.happened_at, s.recorded_at,
                u.display_name as by, r.id as release_id, r.reason as release_reason,
                r.happened_at as released_at, r.by as released_by
           from lot_marks s
           join lots l on l.id = s.lot_id
           left join users u on u.id = s.recorded_by
           left join lateral (
               select m.id, m.reason, m.happened_at, v.display_name as by
                 from lot_marks m left join users v on v.id = m.recorded_by
                where m.lot_id = s.lot_id and m.mark = 'release'
                  and (m.recorded_at, m.id) > (s.recorded_at, s.id)
                order by m.recorded_at, m.id limit 1) r on true
          where s.site_id = $1 and s.mark = 'stop' and s.id > $2 and ($4 is null or s.lot_id = $4)
          order by s.id limit $3",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<SqlUuid, _>(after)
    .bind::<BigInt, _>(limit)
    .bind::<Nullable<SqlUuid>, _>(lot_id)
    .load(conn)?)
}

/// Stops or releases a lot, and with it whatever stands on it, in the same transaction.
pub fn mark(tx: &mut Tx<'_>, new: &NewLotMark) -> Result<(Lot, bool), StoreError> {
    let (now, by) = (tx.now, tx.actor.id);
    // Marks of one lot are put in one order, because the newest decides.
    let lot = lots::table.find(new.lot_id).filter(lots::site_id.eq(new.site_id));
    let locked: Option<Uuid> = lot.select(lots::id).for_no_key_update().first(tx.conn).optional()?;
    locked.ok_or_else(|| StoreError::not_found("lot"))?;
    let stands = !lot::stopped(tx.conn, new.site_id, &[new.lot_id])?.is_empty();
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(lot_marks::table)
                .values((new, lot_marks::recorded_at.eq(now), lot_marks::recorded_by.eq(by)))
                .on_conflict(lot_marks::id)
                .do_nothing();
            Ok(made.execute(conn)?)
        },
        |conn| {
            let stored = lot_marks::table.find(new.id).filter(lot_marks::site_id.eq(new.site_id));
            stored.select(NewLotMark::as_select()).first(conn).optional()
        },
    )?;
    if added.is_new() {
        if new.mark != STOP && !stands {
            return Err(Refusal::new(
                Code::StopReleased,
                "This lot is not stopped: nothing is to be released.",
            )
            .into());
        }
        tx.touched("lot_marks", new.id);
        look_back::after_stop(tx, Asked::Lot(new.lot_id))?;
    }
    lot::find(tx.conn, new.site_id, new.lot_id)
}
