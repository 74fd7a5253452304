//! Users: people who sign in.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::Role,
};
use uuid::Uuid;

use crate::{Added, StoreError, TextList, Tx, insert_once, on_constraint, schema::users, session, site};

/// One user as stored, without what their password is checked against.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = users, check_for_backend(diesel::pg::Pg))]
pub struct User {
    /// The user's id.
    pub id: Uuid,
    /// What they sign in with.
    pub username: String,
    /// What the screens call them.
    pub display_name: String,
    /// What they may do.
    pub roles: TextList,
    /// Since when the account is closed.
    pub disabled_at: Option<DateTime<Utc>>,
    /// Counts the changes.
    pub version: i32,
    /// When they were added.
    pub created_at: DateTime<Utc>,
}

/// A user to be added.
#[derive(Debug, Clone, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = users, check_for_backend(diesel::pg::Pg))]
pub struct NewUser {
    /// The user's id.
    pub id: Uuid,
    /// The site they belong to.
    pub site_id: Uuid,
    /// What they sign in with, in lower case.
    pub username: String,
    /// What the screens call them.
    pub display_name: String,
    /// What they may do.
    pub roles: TextList,
}

/// What may change about a user.
#[derive(Debug, Clone, Default, AsChangeset)]
#[diesel(table_name = users)]
pub struct UserChange {
    /// What the screens call them.
    pub display_name: Option<String>,
    /// What they may do.
    pub roles: Option<TextList>,
    /// The text a new password will be checked against.
    pub password_hash: Option<String>,
    /// Whether the account is closed.
    #[diesel(skip_update)]
    pub disabled: Option<bool>,
}

impl UserChange {
    /// Whether sessions opened before the change must not outlive it.
    fn ends_sessions(&self) -> bool {
        self.roles.is_some() || self.password_hash.is_some() || self.disabled == Some(true)
    }

    /// Whether whoever makes this change to themselves could not take it back.
    fn shuts_out(&self) -> bool {
        let demoted = self.roles.as_ref().is_some_and(|roles| !roles.parsed().contains(&Role::Admin));
        demoted || self.disabled == Some(true)
    }
}

/// A page of the site's users: ids after `after`, at most `limit`.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    (after, limit): (Uuid, i64),
) -> Result<Vec<User>, StoreError> {
    Ok(users::table
        .filter(users::site_id.eq(site_id))
        .filter(users::id.gt(after))
        .order(users::id)
        .limit(limit)
        .select(User::as_select())
        .load(conn)?)
}

/// A user of the site.
pub fn find(conn: &mut PgConnection, site_id: Uuid, id: Uuid) -> Result<User, StoreError> {
    let found = users::table
        .find(id)
        .filter(users::site_id.eq(site_id))
        .select(User::as_select())
        .first(conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("user"))
}

/// The names that are shown of these users.
pub(crate) fn names(conn: &mut PgConnection, ids: &[Uuid]) -> Result<HashMap<Uuid, String>, StoreError> {
    let of_them = users::table.filter(users::id.eq_any(ids)).select((users::id, users::display_name));
    Ok(of_them.load::<(Uuid, String)>(conn)?.into_iter().collect())
}

/// The id behind a user name of the site, for naming who took something.
pub(crate) fn id_of(conn: &mut PgConnection, site_id: Uuid, username: &str) -> Result<Uuid, StoreError> {
    let found =
        users::table.filter(users::site_id.eq(site_id)).filter(users::username.eq(username.to_lowercase()));
    let id = found.filter(users::disabled_at.is_null()).select(users::id).first(conn).optional()?;
    id.ok_or_else(|| {
        let sentence = format!("Nobody here signs in as {username}: give the user name of who takes it.");
        Refusal::new(Code::InvalidValue, sentence).field("handed_to").into()
    })
}

/// Adds a user with the text their password will be checked against.
pub fn create(tx: &mut Tx<'_>, new: &NewUser, password_hash: &str) -> Result<Added, StoreError> {
    let added = insert_once(
        tx.conn,
        new,
        |conn, new| {
            let made = diesel::insert_into(users::table)
                .values((new, users::password_hash.eq(password_hash)))
                .on_conflict(users::id)
                .do_nothing()
                .execute(conn);
            on_constraint(made, "users_username_taken", || {
                Refusal::new(Code::AlreadyExists, "This username is taken: choose another.").field("username")
            })
        },
        |conn| {
            users::table
                .find(new.id)
                .filter(users::site_id.eq(new.site_id))
                .select(NewUser::as_select())
                .first(conn)
                .optional()
        },
    )?;
    if added.is_new() {
        tx.touched("users", new.id);
    }
    Ok(added)
}

/// Whether anybody can sign in at all.
pub fn any(conn: &mut PgConnection) -> Result<bool, StoreError> {
    Ok(diesel::select(diesel::dsl::exists(users::table.select(users::id))).get_result(conn)?)
}

/// Every user of the installation, for the program itself.
pub fn all(conn: &mut PgConnection) -> Result<Vec<NewUser>, StoreError> {
    Ok(users::table.order(users::username).select(NewUser::as_select()).load(conn)?)
}

/// Changes a user, unless somebody changed them since `version`. Other roles, another password or a closed account
/// end the user's sessions in the same moment.
pub fn update(tx: &mut Tx<'_>, id: Uuid, version: i32, change: &UserChange) -> Result<User, StoreError> {
    let site_id = tx.site_id();
    if tx.actor.id == id && change.shuts_out() {
        let sentence = "You cannot close your own account or give up your own admin role: ask another admin.";
        return Err(Refusal::new(Code::StillInUse, sentence).into());
    }
    let row = || users::table.find(id).filter(users::site_id.eq(site_id));
    let changed = diesel::update(row().filter(users::version.eq(version)))
        .set((change, users::version.eq(users::version + 1)))
        .execute(tx.conn)?;
    let user = find(tx.conn, site_id, id)?;
    if changed == 0 {
        return Err(site::stale(version, user.version).into());
    }
    if let Some(disabled) = change.disabled {
        // Said twice, it keeps the time at which it was said first.
        let since = disabled.then(|| user.disabled_at.unwrap_or(tx.now));
        diesel::update(row()).set(users::disabled_at.eq(since)).execute(tx.conn)?;
    }
    tx.touched("users", id);
    if change.ends_sessions() {
        session::end_all(tx, id)?;
    }
    find(tx.conn, site_id, id)
}
