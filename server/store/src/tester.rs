//! Testers: who runs screenings and attempts, or has run some.

use diesel::{
    PgConnection, QueryableByName, RunQueryDsl,
    sql_types::{BigInt, Bool, Nullable, Text, Uuid as SqlUuid},
};
use uuid::Uuid;

use crate::{StoreError, search};

/// One of them.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Tester {
    /// The user.
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    /// The name to sign in with.
    #[diesel(sql_type = Text)]
    pub username: String,
    /// The name that is shown.
    #[diesel(sql_type = Text)]
    pub display_name: String,
    /// Whether the account is closed.
    #[diesel(sql_type = Bool)]
    pub closed: bool,
}

/// Testers of the site by id, those with this text in either name. Whoever is no tester any more but has run something
/// is among them: a look-back may be about that time.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    text: Option<&str>,
    (after, limit): (Uuid, i64),
) -> Result<Vec<Tester>, StoreError> {
    Ok(diesel::sql_query(
        "select u.id, u.username, u.display_name, u.disabled_at is not null as closed from users u
          where u.site_id = $1 and u.id > $2 and ($4 is null or u.display_name ilike $4 or u.username ilike $4)
            and ('tester' = any (u.roles)
                 or exists (select from attempts a where a.recorded_by = u.id)
                 or exists (select from screenings s where s.recorded_by = u.id))
          order by u.id limit $3",
    )
    .bind::<SqlUuid, _>(site_id)
    .bind::<SqlUuid, _>(after)
    .bind::<BigInt, _>(limit)
    .bind::<Nullable<Text>, _>(text.map(search::containing))
    .load(conn)?)
}
