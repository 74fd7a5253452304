//! Signing keys: made when first needed, opened with the installation's secret, and published as a JWK Set.

mod command;
mod seal;

pub use command::{Made, create, reseal, retire, rotate, withdraw};

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError, RwLock},
    time::{Duration, Instant},
};

use actix_web::{HttpRequest, HttpResponse, get, http::header, web::Data};
use anyhow::{Context, bail};
use sellion_badge::{KeyRing, SigningKey};
use sellion_store::{
    PgConnection, Store, StoreError, Tx,
    signing_key::{self, SigningKeyRow},
};
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;
use uuid::Uuid;

use self::seal::Seal;
use crate::{problem::Problem, secret::Secret, state::State, version::not_modified};

/// After this time the accepted keys are read again, so that a retired key is retired on every server.
const RING_LIFE: Duration = Duration::from_secs(5);
/// A token of an unknown key may be of one that another server has just made; but codes of unknown keys
/// cost nothing to forge, so they may not cause a query each.
const RING_LIFE_WHEN_UNKNOWN: Duration = Duration::from_millis(250);
/// RFC 7517 section 8.5.1.
const MEDIA_TYPE: &str = "application/jwk-set+json";
/// How long others may keep the published keys.
const PUBLISHED_FOR: &str = "public, max-age=300";

/// The keys that badges are signed and checked with.
pub(crate) struct Keys {
    seal: Seal,
    opened: Mutex<HashMap<Uuid, Arc<SigningKey>>>,
    rings: RwLock<Option<Rings>>,
    reading: tokio::sync::Mutex<()>,
}

#[derive(Clone)]
struct Rings {
    read_at: Instant,
    by_site: Arc<HashMap<Uuid, Ring>>,
}

/// The keys accepted at one site.
#[derive(Clone, Default)]
pub(crate) struct Ring {
    pub(crate) keys: Arc<KeyRing>,
    /// The ids of the keys: what was verified under other keys has to be verified again.
    pub(crate) names: Arc<str>,
}

impl Keys {
    pub(crate) fn new(secret: &Secret) -> anyhow::Result<Self> {
        Ok(Self {
            seal: seal(secret)?,
            opened: Mutex::default(),
            rings: RwLock::default(),
            reading: tokio::sync::Mutex::default(),
        })
    }

    /// The key that signs for the site of `tx` and its row's id; makes one when there is none.
    pub(crate) fn signing_key(&self, tx: &mut Tx<'_>) -> Result<(Uuid, Arc<SigningKey>), StoreError> {
        let site_id = tx.site_id();
        let row = match signing_key::current_for_use(tx)? {
            Some(row) => row,
            None => signing_key::create(tx, &generate(&self.seal, site_id)?)?,
        };
        // The next check must know the key, however lately it began to sign.
        let mut rings = self.rings.write().unwrap_or_else(PoisonError::into_inner);
        rings.take_if(|rings| {
            rings.by_site.get(&site_id).is_none_or(|ring| ring.keys.get(&row.kid).is_none())
        });
        drop(rings);
        Ok((row.id, self.opened(&row)?))
    }

    /// A key that signs, opened.
    pub(crate) fn opened(&self, row: &SigningKeyRow) -> Result<Arc<SigningKey>, StoreError> {
        let mut opened = self.opened.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(key) = opened.get(&row.id) {
            return Ok(Arc::clone(key));
        }
        let key = open(&self.seal, row).map_err(|error| StoreError::internal(format!("{error:#}")))?;
        let key = Arc::new(key);
        opened.insert(row.id, Arc::clone(&key));
        Ok(key)
    }

    /// The keys accepted at a site, as stored a few seconds ago at most.
    pub(crate) async fn ring(&self, store: &Store, site_id: Uuid) -> Result<Ring, StoreError> {
        self.ring_read_within(store, site_id, RING_LIFE).await
    }

    /// As [`Keys::ring`], for a code whose key was not in it.
    pub(crate) async fn newer_ring(&self, store: &Store, site_id: Uuid) -> Result<Ring, StoreError> {
        self.ring_read_within(store, site_id, RING_LIFE_WHEN_UNKNOWN).await
    }

    async fn ring_read_within(
        &self,
        store: &Store,
        site_id: Uuid,
        life: Duration,
    ) -> Result<Ring, StoreError> {
        if let Some(ring) = self.held(site_id, life) {
            return Ok(ring);
        }
        // One reads; whoever came meanwhile finds what it read.
        let _turn = self.reading.lock().await;
        if let Some(ring) = self.held(site_id, life) {
            return Ok(ring);
        }
        let read_at = Instant::now();
        let by_site = Arc::new(rings(store.run(signing_key::list_accepted).await?)?);
        let ring = by_site.get(&site_id).cloned().unwrap_or_default();
        *self.rings.write().unwrap_or_else(PoisonError::into_inner) = Some(Rings { read_at, by_site });
        Ok(ring)
    }

    fn held(&self, site_id: Uuid, life: Duration) -> Option<Ring> {
        let rings = self.rings.read().unwrap_or_else(PoisonError::into_inner);
        let rings = rings.as_ref().filter(|rings| rings.read_at.elapsed() < life)?;
        Some(rings.by_site.get(&site_id).cloned().unwrap_or_default())
    }
}

/// A new key for a site, its private half sealed.
fn generate(seal: &Seal, site_id: Uuid) -> Result<SigningKeyRow, StoreError> {
    let fault = |what: &str| StoreError::internal(format!("a signing key could not be {what}"));
    let key = SigningKey::generate().map_err(|_| fault("made"))?;
    let mut ring = KeyRing::new();
    ring.insert(key.verifying_key().clone()).map_err(|_| fault("published"))?;
    let public_jwk = ring.to_jwks()["keys"][0].clone();
    let private_sealed = seal.seal(key.kid(), key.to_pkcs8_der()).map_err(|_| fault("sealed"))?;
    Ok(SigningKeyRow { id: Uuid::now_v7(), site_id, kid: key.kid().to_owned(), public_jwk, private_sealed })
}

fn rings(keys: Vec<(Uuid, Value)>) -> Result<HashMap<Uuid, Ring>, StoreError> {
    let mut by_site: HashMap<Uuid, Vec<Value>> = HashMap::new();
    for (site_id, jwk) in keys {
        by_site.entry(site_id).or_default().push(jwk);
    }
    by_site
        .into_iter()
        .map(|(site_id, jwks)| {
            let names: Vec<&str> = jwks.iter().filter_map(|jwk| jwk["kid"].as_str()).collect();
            let names = names.join(" ").into();
            let keys = Arc::new(ring_of(jwks)?);
            Ok((site_id, Ring { keys, names }))
        })
        .collect()
}

pub(crate) fn ring_of(jwks: Vec<Value>) -> Result<KeyRing, StoreError> {
    KeyRing::from_jwks(&json!({ "keys": jwks }).to_string())
        .map_err(|error| StoreError::internal(format!("a stored public key cannot be read: {error}")))
}

fn seal(secret: &Secret) -> anyhow::Result<Seal> {
    match Seal::new(&secret.key_for("signing keys")) {
        Ok(seal) => Ok(seal),
        Err(_) => bail!("the key that seals the signing keys cannot be set up"),
    }
}

fn open(seal: &Seal, row: &SigningKeyRow) -> anyhow::Result<SigningKey> {
    let Ok(der) = seal.open(&row.kid, &row.private_sealed) else {
        bail!(
            "the signing key {} does not open: this server was started with another secret than the one the \
             database was used with before; start it with that secret",
            row.kid
        );
    };
    let key = SigningKey::from_pkcs8_der(&der).context("an opened signing key is no key")?;
    if key.kid() != row.kid {
        bail!("the signing key {} holds another key", row.kid);
    }
    Ok(key)
}

/// Whether the installation's secret opens every key that signs or stands by. For programs that are about to serve.
///
/// # Errors
/// The secret is not the one the database was used with, or the database cannot be asked.
pub fn check_signing_keys(conn: &mut PgConnection, secret: &Secret) -> anyhow::Result<()> {
    let seal = seal(secret)?;
    for row in signing_key::list_sealed(conn)? {
        open(&seal, &row)?;
    }
    Ok(())
}

/// The public keys of badges (RFC 7517 section 5).
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct KeySet {
    /// The keys, as JWKs.
    #[schema(value_type = Vec<Object>, example = json!([{
        "kty": "EC", "crv": "P-256", "use": "sig", "alg": "ES256", "kid": "mJ3vK0aQ",
        "x": "f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU",
        "y": "x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0"
    }]))]
    keys: Vec<Value>,
}

/// The public keys that badges are checked with: every key of every site here that is not retired.
///
/// A key that stands by is among them, so that gates know it before it signs. Send the `ETag` as `If-None-Match` to be
/// told whether anything is new.
#[utoipa::path(tag = "badges", responses(
    (status = 200, body = KeySet, content_type = "application/jwk-set+json"),
    (status = 304, description = "What the caller holds is what would be sent.")
))]
#[get("/.well-known/jwks.json")]
pub(crate) async fn read_jwks(state: Data<State>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let keys: Vec<Value> =
        state.store.run(signing_key::list_accepted).await?.into_iter().map(|(_, jwk)| jwk).collect();
    // A key's id follows from the key, so the ids say all there is to say.
    let names: Vec<&str> = keys.iter().filter_map(|key| key["kid"].as_str()).collect();
    let etag = format!("\"{}\"", names.join("."));
    if let Some(unchanged) = not_modified(&request, &etag, PUBLISHED_FOR) {
        return Ok(unchanged);
    }
    Ok(HttpResponse::Ok()
        .content_type(MEDIA_TYPE)
        .insert_header((header::ETAG, etag))
        .insert_header((header::CACHE_CONTROL, PUBLISHED_FOR))
        .json(KeySet { keys }))
}
