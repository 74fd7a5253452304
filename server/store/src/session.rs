//! Sessions: people's sign-ins, and the throttle on failed ones.

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, prelude::*};
use uuid::Uuid;

use crate::{
    StoreError, TextList, Tx,
    schema::{sessions, sign_in_failures, users},
};

/// Failures within this time count.
const THROTTLE_WINDOW: TimeDelta = TimeDelta::minutes(15);
/// Failures after which one account has to wait.
const ACCOUNT_FAILURES_MAX: i64 = 8;
/// Failures after which one address has to wait: a ward's people share one.
const ADDRESS_FAILURES_MAX: i64 = 60;

/// What a sign-in needs to know of an account.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = users, check_for_backend(diesel::pg::Pg))]
pub struct Account {
    /// The user.
    pub id: Uuid,
    /// Their site.
    pub site_id: Uuid,
    /// What they sign in with.
    pub username: String,
    /// What the screens call them.
    pub display_name: String,
    /// The text their password is checked against.
    pub password_hash: String,
    /// What they may do.
    pub roles: TextList,
}

/// The account behind a username, unless it is closed.
pub fn find_account(conn: &mut PgConnection, username: &str) -> Result<Option<Account>, StoreError> {
    Ok(users::table
        .filter(users::username.eq(username))
        .filter(users::disabled_at.is_null())
        .select(Account::as_select())
        .first(conn)
        .optional()?)
}

/// The account of a user.
pub fn read_account(conn: &mut PgConnection, user_id: Uuid) -> Result<Account, StoreError> {
    let account = users::table.find(user_id).select(Account::as_select()).first(conn).optional()?;
    account.ok_or_else(|| StoreError::not_found("user"))
}

/// Seconds this account or address has to wait before its next try, when it failed too often.
pub fn throttled_for(
    conn: &mut PgConnection,
    account: &str,
    address: &str,
    now: DateTime<Utc>,
) -> Result<Option<i64>, StoreError> {
    let since = now - THROTTLE_WINDOW;
    let recent = || sign_in_failures::table.filter(sign_in_failures::created_at.gt(since));
    let of_account = recent()
        .filter(sign_in_failures::account.eq(account))
        .select((diesel::dsl::count_star(), diesel::dsl::min(sign_in_failures::created_at)))
        .first::<(i64, Option<DateTime<Utc>>)>(conn)?;
    let of_address = recent()
        .filter(sign_in_failures::address.eq(address))
        .select((diesel::dsl::count_star(), diesel::dsl::min(sign_in_failures::created_at)))
        .first::<(i64, Option<DateTime<Utc>>)>(conn)?;
    let wait = |(count, oldest): (i64, Option<DateTime<Utc>>), max: i64| {
        let oldest = oldest.filter(|_| count >= max)?;
        Some((oldest + THROTTLE_WINDOW - now).num_seconds().max(1))
    };
    Ok(wait(of_account, ACCOUNT_FAILURES_MAX).max(wait(of_address, ADDRESS_FAILURES_MAX)))
}

/// Remembers a failed sign-in, and forgets those that no longer count.
pub fn record_failure(
    conn: &mut PgConnection,
    account: &str,
    address: &str,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    diesel::insert_into(sign_in_failures::table)
        .values((
            sign_in_failures::account.eq(account),
            sign_in_failures::address.eq(address),
            sign_in_failures::created_at.eq(now),
        ))
        .execute(conn)?;
    diesel::delete(sign_in_failures::table.filter(sign_in_failures::created_at.lt(now - THROTTLE_WINDOW)))
        .execute(conn)?;
    Ok(())
}

/// Opens a session for a user who proved who they are.
pub fn create(
    tx: &mut Tx<'_>,
    id: Uuid,
    account: &Account,
    expires_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    diesel::insert_into(sessions::table)
        .values((
            sessions::id.eq(id),
            sessions::user_id.eq(account.id),
            sessions::site_id.eq(account.site_id),
            sessions::expires_at.eq(expires_at),
            sessions::created_at.eq(tx.now),
        ))
        .execute(tx.conn)?;
    diesel::delete(sign_in_failures::table.filter(sign_in_failures::account.eq(&account.username)))
        .execute(tx.conn)?;
    tx.touched("sessions", id);
    Ok(())
}

/// Ends a session: its token is worth nothing from here on.
pub fn end(tx: &mut Tx<'_>, id: Uuid) -> Result<(), StoreError> {
    diesel::update(sessions::table.find(id).filter(sessions::site_id.eq(tx.site_id())))
        .set(sessions::ended_at.eq(tx.now))
        .execute(tx.conn)?;
    tx.touched("sessions", id);
    Ok(())
}

/// Ends every open session of a user of the site.
pub fn end_all(tx: &mut Tx<'_>, user_id: Uuid) -> Result<(), StoreError> {
    let open = sessions::table
        .filter(sessions::user_id.eq(user_id))
        .filter(sessions::site_id.eq(tx.site_id()))
        .filter(sessions::ended_at.is_null());
    let ended: Vec<Uuid> = diesel::update(open)
        .set(sessions::ended_at.eq(tx.now))
        .returning(sessions::id)
        .get_results(tx.conn)?;
    for id in ended {
        tx.touched("sessions", id);
    }
    Ok(())
}
