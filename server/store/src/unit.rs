//! The unit of work: one connection, one transaction, one audit trail.

use chrono::{DateTime, Utc};
use diesel::{Connection, PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::Operation,
};
use serde_json::Value;
use uuid::Uuid;

use crate::{Store, StoreError, audit, schema};

/// How often a unit of work is run again after it lost against another one.
const TRIES_MAX: u32 = 3;

/// What kind of actor stands behind a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ActorKind {
    /// A person with a session.
    User,
    /// A device with a token.
    Device,
    /// The program itself, run by somebody with access to the machine.
    Program,
}

impl ActorKind {
    /// The word that the audit chain stores.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::User => "user",
            Self::Device => "device",
            Self::Program => "program",
        }
    }
}

/// Who acts, and at which site.
#[derive(Debug, Clone)]
pub struct Actor {
    /// The site that everything the actor touches belongs to.
    pub site_id: Uuid,
    /// What kind of actor.
    pub kind: ActorKind,
    /// The user or device; the nil id for the program itself.
    pub id: Uuid,
    /// The session of a user.
    pub session_id: Option<Uuid>,
}

impl Actor {
    /// The program going on by itself with what somebody asked for: the rows it writes bear that name, whether or not
    /// whoever asked is still signed in.
    #[must_use]
    pub fn program_for(site_id: Uuid, asked_by: Uuid) -> Self {
        Self { id: asked_by, ..Self::program(site_id) }
    }

    /// The program acting for somebody at the machine's own command line.
    #[must_use]
    pub fn program(site_id: Uuid) -> Self {
        Self { site_id, kind: ActorKind::Program, id: Uuid::nil(), session_id: None }
    }
}

/// A running write: the transaction, who is behind it, when it is, and which rows it touched.
pub struct Tx<'c> {
    /// The connection, inside its transaction.
    pub conn: &'c mut PgConnection,
    /// Who acts.
    pub actor: Actor,
    /// When the server learned of it: the `recorded_at` of every row written here.
    pub now: DateTime<Utc>,
    touched: Vec<audit::Subject>,
}

impl Tx<'_> {
    /// The site that every row read or written here belongs to.
    #[must_use]
    pub fn site_id(&self) -> Uuid {
        self.actor.site_id
    }

    /// Names a row that this write appended or changed, so that the audit chain covers it.
    pub fn touched(&mut self, table: &'static str, id: Uuid) {
        self.touched.push(audit::Subject::row(table, id));
    }

    /// As [`Tx::touched`], with words or values that the row itself does not keep.
    pub fn touched_with(&mut self, table: &'static str, id: Uuid, detail: Value) {
        self.touched.push(audit::Subject::row(table, id).with(detail));
    }

    /// Runs `work` so that nothing of it stays when it fails, while what was done here before does.
    pub(crate) fn undoing<T, E: From<diesel::result::Error>>(
        &mut self,
        work: impl FnOnce(&mut Tx<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let (actor, now) = (self.actor.clone(), self.now);
        let (result, touched) = self.conn.transaction(|conn| {
            let mut inner = Tx { conn, actor, now, touched: Vec::new() };
            let result = work(&mut inner)?;
            Ok::<_, E>((result, std::mem::take(&mut inner.touched)))
        })?;
        self.touched.extend(touched);
        Ok(result)
    }

    /// Names a run of events appended to one screening or attempt.
    pub fn touched_events(&mut self, table: &'static str, id: Uuid, from_seq: i32, to_seq: i32) {
        self.touched.push(audit::Subject::events(table, id, from_seq, to_seq));
    }
}

impl Store {
    /// Runs `work` in one transaction, appends the audit rows of what it touched, and commits.
    ///
    /// `work` may be run again when the database asks for it, so it must do nothing outside `Tx`.
    pub async fn write<T, F>(
        &self,
        actor: &Actor,
        operation: Operation,
        now: DateTime<Utc>,
        work: F,
    ) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: Fn(&mut Tx<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        self.write_as(actor, operation.as_str(), now, work).await
    }

    /// As [`Store::write`], for what happens outside the table of operations, such as signing in.
    pub async fn write_as<T, F>(
        &self,
        actor: &Actor,
        action: &'static str,
        now: DateTime<Utc>,
        work: F,
    ) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: Fn(&mut Tx<'_>) -> Result<T, StoreError> + Send + 'static,
    {
        let actor = actor.clone();
        self.run(move |conn| write_on(conn, &actor, action, now, &work)).await
    }

    /// Runs `work` in one read-only transaction.
    pub async fn read<T, F>(&self, actor: &Actor, now: DateTime<Utc>, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: Fn(&mut PgConnection) -> Result<T, StoreError> + Send + 'static,
    {
        let actor = actor.clone();
        self.run(move |conn| {
            conn.build_transaction().read_only().repeatable_read().run(|conn| {
                still_entitled(conn, &actor, now)?;
                work(conn)
            })
        })
        .await
    }

    /// Runs `work` on a connection of the pool, on a thread that may block.
    pub async fn run<T, F>(&self, work: F) -> Result<T, StoreError>
    where
        T: Send + 'static,
        F: Fn(&mut PgConnection) -> Result<T, StoreError> + Send + 'static,
    {
        let permit = self.permit().await?;
        let store = self.clone();
        let done = tokio::task::spawn_blocking(move || {
            let mut lease = store.lease(permit)?;
            let mut tries = 1;
            loop {
                match work(&mut lease.conn) {
                    Err(error) if error.is_transient() && tries < TRIES_MAX => tries += 1,
                    result => return result,
                }
            }
        });
        done.await.map_err(|error| StoreError::internal(format!("a unit of work ended badly: {error}")))?
    }
}

/// One write on a given connection: for the program itself, where there is no request to wait for.
pub fn write_on<T>(
    conn: &mut PgConnection,
    actor: &Actor,
    action: &str,
    now: DateTime<Utc>,
    work: impl Fn(&mut Tx<'_>) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    conn.transaction(|conn| {
        still_entitled(conn, actor, now)?;
        let mut tx = Tx { conn, actor: actor.clone(), now, touched: Vec::new() };
        let result = work(&mut tx)?;
        let touched = std::mem::take(&mut tx.touched);
        // Last of all, so that the chain's lock is held for the shortest time and nothing is waited for under it.
        audit::append(tx.conn, actor, action, now, touched)?;
        Ok(result)
    })
}

/// Several writes of the program, at several sites, of which all happen or none.
pub fn together<T>(
    conn: &mut PgConnection,
    work: impl FnOnce(&mut PgConnection) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    conn.transaction(work)
}

/// Sessions and device tokens can be ended at any time, so each unit of work looks again.
fn still_entitled(conn: &mut PgConnection, actor: &Actor, now: DateTime<Utc>) -> Result<(), StoreError> {
    let entitled: bool = match actor.kind {
        ActorKind::Program => return Ok(()),
        ActorKind::User => diesel::select(diesel::dsl::exists(
            schema::sessions::table
                .inner_join(schema::users::table)
                .filter(schema::sessions::id.eq(actor.session_id.unwrap_or_default()))
                .filter(schema::sessions::user_id.eq(actor.id))
                .filter(schema::sessions::ended_at.is_null())
                .filter(schema::sessions::expires_at.gt(now))
                .filter(schema::users::disabled_at.is_null()),
        ))
        .get_result(conn)?,
        ActorKind::Device => diesel::select(diesel::dsl::exists(
            schema::devices::table
                .filter(schema::devices::id.eq(actor.id))
                .filter(schema::devices::revoked_at.is_null())
                .filter(schema::devices::expires_at.gt(now)),
        ))
        .get_result(conn)?,
    };
    if entitled {
        return Ok(());
    }
    Err(Refusal::new(Code::SessionEnded, "This sign-in has ended: sign in again.").into())
}
