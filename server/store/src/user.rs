//! Users: people who sign in.

use diesel::{PgConnection, prelude::*};
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{Added, StoreError, TextList, Tx, insert_once, on_constraint, schema::users};

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
