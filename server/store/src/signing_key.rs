//! Signing keys: each site has one that signs its badges; older ones may still be accepted, and one may stand by.
//!
//! The private half is stored sealed, and only for as long as the key may still sign. This module never sees the key
//! that opens it.

use chrono::{DateTime, Utc};
use diesel::{PgConnection, prelude::*};
use sellion_rules::{
    refusal::{Code, Refusal},
    signing_key::KeyState,
};
use serde_json::Value;
use uuid::Uuid;

use crate::{
    StoreError, Tx, badge, on_constraint,
    schema::{badge_endings, badges, signing_keys},
};

/// What is left of the private half of a key that signs no more.
const NOTHING: &[u8] = &[];

/// A key as stored, the private half sealed.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = signing_keys, check_for_backend(diesel::pg::Pg))]
pub struct SigningKeyRow {
    /// Its id.
    pub id: Uuid,
    /// The site it signs for.
    pub site_id: Uuid,
    /// The id that tokens name it by.
    pub kid: String,
    /// The public half as a JWK (RFC 7517 section 4).
    pub public_jwk: Value,
    /// The private half, sealed; nothing once the key signs no more.
    pub private_sealed: Vec<u8>,
}

/// How a key stands.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = signing_keys, check_for_backend(diesel::pg::Pg))]
pub struct KeyStanding {
    /// Its id.
    pub id: Uuid,
    /// The id that tokens name it by.
    pub kid: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Since when it has stood by, while it does.
    pub stands_by_since: Option<DateTime<Utc>>,
    /// From when on it signed nothing new.
    pub signs_until: Option<DateTime<Utc>>,
    /// From when on what it signed was accepted no more.
    pub retired_at: Option<DateTime<Utc>>,
    /// When it was withdrawn, if its end was that.
    pub withdrawn_at: Option<DateTime<Utc>>,
}

impl KeyStanding {
    /// How it stands.
    #[must_use]
    pub fn state(&self) -> KeyState {
        match self {
            Self { withdrawn_at: Some(_), .. } => KeyState::Withdrawn,
            Self { retired_at: Some(_), .. } => KeyState::Retired,
            Self { stands_by_since: Some(_), .. } => KeyState::StandsBy,
            Self { signs_until: Some(_), .. } => KeyState::Accepted,
            _ => KeyState::Signs,
        }
    }

    fn signs(&self) -> bool {
        self.state() == KeyState::Signs
    }
}

/// That a key signs.
#[diesel::dsl::auto_type]
fn signing() -> _ {
    signing_keys::signs_until
        .is_null()
        .and(signing_keys::stands_by_since.is_null())
        .and(signing_keys::retired_at.is_null())
}

/// The key that signs for a site, when it has one already.
pub fn current(conn: &mut PgConnection, site_id: Uuid) -> Result<Option<SigningKeyRow>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::site_id.eq(site_id))
        .filter(signing())
        .select(SigningKeyRow::as_select())
        .first(conn)
        .optional()?)
}

/// As [`current`], for a write that signs with it: whoever withdraws the key waits, and finds what was signed.
pub fn current_for_use(tx: &mut Tx<'_>) -> Result<Option<SigningKeyRow>, StoreError> {
    let site_id = tx.site_id();
    // Whoever waited for a rotation finds at the second look that another key signs.
    for _ in 0..2 {
        let found = signing_keys::table
            .filter(signing_keys::site_id.eq(site_id))
            .filter(signing())
            .select(SigningKeyRow::as_select())
            .for_share()
            .first(tx.conn)
            .optional()?;
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

/// Stores the first key of a site and returns the one that signs: another server may have been quicker.
pub fn create(tx: &mut Tx<'_>, new: &SigningKeyRow) -> Result<SigningKeyRow, StoreError> {
    let made =
        diesel::insert_into(signing_keys::table).values(new).on_conflict_do_nothing().execute(tx.conn)?;
    if made == 1 {
        tx.touched("signing_keys", new.id);
    }
    let site_id = tx.site_id();
    current(tx.conn, site_id)?.ok_or_else(|| StoreError::internal("a signing key was made and is not there"))
}

/// Stores a key that is published from now on and signs once the site rotates to it.
pub fn stand_by(tx: &mut Tx<'_>, new: &SigningKeyRow) -> Result<(), StoreError> {
    let made = diesel::insert_into(signing_keys::table)
        .values((new, signing_keys::stands_by_since.eq(tx.now)))
        .execute(tx.conn);
    on_constraint(made, "signing_keys_one_stands_by", || {
        let sentence = "A key stands by already: rotate to it first.";
        Refusal::new(Code::AlreadyExists, sentence)
    })?;
    tx.touched("signing_keys", new.id);
    Ok(())
}

/// Every key whose signatures are accepted, of all sites: site and public half.
pub fn list_accepted(conn: &mut PgConnection) -> Result<Vec<(Uuid, Value)>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::retired_at.is_null())
        .order(signing_keys::id)
        .select((signing_keys::site_id, signing_keys::public_jwk))
        .load(conn)?)
}

/// Every key with a private half, of all sites: for a program that wants to know whether its secret opens them, or
/// that seals them under another one.
pub fn list_sealed(conn: &mut PgConnection) -> Result<Vec<SigningKeyRow>, StoreError> {
    Ok(signing_keys::table
        .filter(signing_keys::private_sealed.ne(NOTHING))
        .order(signing_keys::id)
        .select(SigningKeyRow::as_select())
        .load(conn)?)
}

/// The keys of a site, oldest first, each with how many badges in force stand on it.
pub fn list(
    conn: &mut PgConnection,
    site_id: Uuid,
    now: DateTime<Utc>,
) -> Result<Vec<(KeyStanding, i64)>, StoreError> {
    let keys: Vec<KeyStanding> = signing_keys::table
        .filter(signing_keys::site_id.eq(site_id))
        .order(signing_keys::id)
        .select(KeyStanding::as_select())
        .load(conn)?;
    keys.into_iter().map(|key| Ok((key.clone(), in_force(conn, key.id, now)?))).collect()
}

/// How many badges that have neither ended nor run out were signed with a key.
fn in_force(conn: &mut PgConnection, key_id: Uuid, now: DateTime<Utc>) -> Result<i64, StoreError> {
    Ok(badges::table
        .left_join(badge_endings::table)
        .filter(badges::signing_key_id.eq(key_id))
        .filter(badges::expires_at.gt(now))
        .filter(badge_endings::id.is_null())
        .count()
        .get_result(conn)?)
}

/// A key of the site by its short id, locked: nobody signs with it meanwhile.
fn locked(tx: &mut Tx<'_>, kid: &str) -> Result<KeyStanding, StoreError> {
    let found = signing_keys::table
        .filter(signing_keys::site_id.eq(tx.site_id()))
        .filter(signing_keys::kid.eq(kid))
        .select(KeyStanding::as_select())
        .for_update()
        .first(tx.conn)
        .optional()?;
    found.ok_or_else(|| StoreError::not_found("key"))
}

/// Lets the key that stands by sign, or `fresh` where none does. What the one before signed is still accepted, but
/// nobody signs with it any more: its private half is gone. Returns the ids of both by which tokens name them.
pub fn rotate(tx: &mut Tx<'_>, fresh: &SigningKeyRow) -> Result<(String, String), StoreError> {
    let site_id = tx.site_id();
    let old = signing_keys::table
        .filter(signing_keys::site_id.eq(site_id))
        .filter(signing())
        .select(KeyStanding::as_select())
        .for_update()
        .first(tx.conn)
        .optional()?;
    let Some(old) = old else {
        let sentence = match current(tx.conn, site_id)? {
            None => "This site has no key yet: `sellion key create` makes one.",
            Some(_) => "Somebody rotated the keys in this instant: look at `sellion key list`.",
        };
        return Err(Refusal::new(Code::NotFound, sentence).into());
    };
    end_signing(tx, &old)?;
    let new = succeed(tx, site_id, fresh)?;
    Ok((old.kid, new))
}

fn end_signing(tx: &mut Tx<'_>, key: &KeyStanding) -> Result<(), StoreError> {
    diesel::update(signing_keys::table.find(key.id))
        .set((signing_keys::signs_until.eq(tx.now), signing_keys::private_sealed.eq(NOTHING)))
        .execute(tx.conn)?;
    tx.touched("signing_keys", key.id);
    Ok(())
}

/// The key that stands by begins to sign, or a fresh one where none does.
fn succeed(tx: &mut Tx<'_>, site_id: Uuid, fresh: &SigningKeyRow) -> Result<String, StoreError> {
    let waiting: Option<(Uuid, String)> = diesel::update(signing_keys::table)
        .filter(signing_keys::site_id.eq(site_id))
        .filter(signing_keys::stands_by_since.is_not_null())
        .filter(signing_keys::retired_at.is_null())
        .set(signing_keys::stands_by_since.eq(None::<DateTime<Utc>>))
        .returning((signing_keys::id, signing_keys::kid))
        .get_result(tx.conn)
        .optional()?;
    match waiting {
        Some((id, kid)) => {
            tx.touched("signing_keys", id);
            Ok(kid)
        }
        None => Ok(create(tx, fresh)?.kid),
    }
}

/// Accepts nothing any more that a key signed. Refused while badges in force stand on it, unless told otherwise.
/// Returns how many those were.
pub fn retire(tx: &mut Tx<'_>, kid: &str, even_so: bool) -> Result<i64, StoreError> {
    let key = locked(tx, kid)?;
    if key.retired_at.is_some() {
        return Ok(0);
    }
    let refused = |sentence: String| Refusal::new(Code::StillInUse, sentence);
    if key.signs() {
        return Err(refused("This key signs: rotate to another one first.".to_owned()).into());
    }
    let (now, id) = (tx.now, key.id);
    let standing = in_force(tx.conn, id, now)?;
    if standing > 0 && !even_so {
        let sentence = format!(
            "{standing} badges in force are signed with this key and would not be valid any more: print them anew \
             first, or say that it is to be retired all the same."
        );
        return Err(refused(sentence).fact("badges", standing).into());
    }
    end(tx, &key, None)?;
    Ok(standing)
}

fn end(tx: &mut Tx<'_>, key: &KeyStanding, withdrawn_at: Option<DateTime<Utc>>) -> Result<(), StoreError> {
    diesel::update(signing_keys::table.find(key.id))
        .set((
            signing_keys::signs_until.eq(key.signs_until.unwrap_or(tx.now)),
            signing_keys::retired_at.eq(key.retired_at.unwrap_or(tx.now)),
            signing_keys::withdrawn_at.eq(withdrawn_at),
            signing_keys::private_sealed.eq(NOTHING),
        ))
        .execute(tx.conn)?;
    tx.touched("signing_keys", key.id);
    Ok(())
}

/// Withdraws a key that is in wrong hands: nothing it signed is accepted, every badge it signed ends, and another
/// key signs from now on where it did, all in one transaction. Returns how many badges ended, and the successor.
pub fn withdraw(
    tx: &mut Tx<'_>,
    kid: &str,
    fresh: &SigningKeyRow,
) -> Result<(usize, Option<String>), StoreError> {
    let site_id = tx.site_id();
    let key = locked(tx, kid)?;
    if key.withdrawn_at.is_some() {
        return Ok((0, None));
    }
    let now = tx.now;
    end(tx, &key, Some(now))?;
    let successor = if key.signs() { Some(succeed(tx, site_id, fresh)?) } else { None };
    Ok((badge::end_all_of_key(tx, key.id)?, successor))
}

/// Puts a private half that was sealed anew in the place of the old one.
pub fn reseal(tx: &mut Tx<'_>, id: Uuid, private_sealed: &[u8]) -> Result<(), StoreError> {
    diesel::update(signing_keys::table.find(id))
        .set(signing_keys::private_sealed.eq(private_sealed))
        .execute(tx.conn)?;
    tx.touched("signing_keys", id);
    Ok(())
}
