//! The signed status lists of badges: made when asked for and something has changed, and held until then.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
    time::{Duration, Instant},
};

use actix_web::{
    HttpRequest, HttpResponse, get,
    http::header,
    web::{Bytes, Data, Path},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_badge::{
    SigningKey,
    status_list::{self as list, Status, Statuses, Terms},
};
use sellion_store::{
    StoreError, site,
    status_list::{self, Edition, Marks},
};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::{
    badge::issuer,
    problem::{Problem, ProblemBody},
    state::State,
    version::not_modified,
};

/// For how long nobody asks the database whether a list still holds: a change shows within a second.
const CHECK_LIFE: Duration = Duration::from_millis(250);
/// A list is signed anew after this time even when nothing changed, so that its age is that of its knowledge.
const TTL_SECONDS: i64 = 300;
/// No list is good for anything after so long; policies of gates are stricter.
const LIFE: TimeDelta = TimeDelta::days(7);
/// Whoever keeps a list asks whether it still holds before using it again.
const CACHE: &str = "public, no-cache";

/// A list as it is served.
#[derive(Clone)]
pub(crate) struct Issued {
    pub(crate) token: Bytes,
    /// The same for the same statuses signed in the same five minutes, by whichever server.
    pub(crate) etag: String,
}

/// A list as it is held.
struct Held {
    issued: Issued,
    version: i64,
    key_id: Uuid,
    compressed: Arc<[u8]>,
    digest: String,
    /// Which five minutes it was signed in.
    period: i64,
    /// From this moment on the marks may be others, though nothing was written.
    changes_at: Option<DateTime<Utc>>,
    checked_at: Instant,
}

impl Held {
    fn in_time(&self, now: DateTime<Utc>) -> bool {
        self.changes_at.is_none_or(|at| now < at)
    }

    fn made_under(&self, edition: &Edition, now: DateTime<Utc>) -> bool {
        self.version == edition.version
            && Some(self.key_id) == edition.key.as_ref().map(|key| key.id)
            && self.in_time(now)
    }
}

/// The lists of all sites.
#[derive(Default)]
pub(crate) struct StatusLists {
    held: Mutex<HashMap<Uuid, Held>>,
    making: tokio::sync::Mutex<()>,
}

impl StatusLists {
    /// The list of a site as of now; none where no badge was ever issued.
    pub(crate) async fn get(&self, state: &State, site_id: Uuid) -> Result<Option<Issued>, StoreError> {
        let now = state.clock.now();
        if let Some(issued) = self.fresh(site_id, now) {
            return Ok(Some(issued));
        }
        // One makes it; whoever came meanwhile finds what it made.
        let _turn = self.making.lock().await;
        if let Some(issued) = self.fresh(site_id, now) {
            return Ok(Some(issued));
        }
        let checked_at = Instant::now();
        let edition = state.store.run(move |conn| status_list::edition(conn, site_id)).await?;
        let known = self.known(site_id, &edition, now);
        let (edition, work) = match known {
            Some(work) => (edition, work),
            None => {
                let (edition, marks) =
                    state.store.run(move |conn| status_list::load(conn, site_id, now)).await?;
                let work = actix_web::web::block(move || Work::of(&marks)).await;
                (edition, work.map_err(|error| StoreError::internal(error.to_string()))??)
            }
        };
        let Some(row) = &edition.key else { return Ok(None) };
        let key = state.keys.opened(row)?;
        let held = work.sign(state, site_id, (edition.version, row.id, &key), (now, checked_at))?;
        let issued = held.issued.clone();
        self.held().insert(site_id, held);
        Ok(Some(issued))
    }

    fn held(&self) -> std::sync::MutexGuard<'_, HashMap<Uuid, Held>> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn fresh(&self, site_id: Uuid, now: DateTime<Utc>) -> Option<Issued> {
        let held = self.held();
        let held = held.get(&site_id)?;
        let fresh = held.checked_at.elapsed() < CHECK_LIFE && held.period == period(now) && held.in_time(now);
        fresh.then(|| held.issued.clone())
    }

    /// The statuses that are held already, if they still hold.
    fn known(&self, site_id: Uuid, edition: &Edition, now: DateTime<Utc>) -> Option<Work> {
        let held = self.held();
        let held = held.get(&site_id).filter(|held| held.made_under(edition, now))?;
        let signed = (held.period == period(now)).then(|| held.issued.clone());
        Some(Work {
            compressed: Arc::clone(&held.compressed),
            digest: held.digest.clone(),
            changes_at: held.changes_at,
            signed,
        })
    }
}

fn period(now: DateTime<Utc>) -> i64 {
    now.timestamp().div_euclid(TTL_SECONDS)
}

/// Statuses on their way to a signed list.
struct Work {
    compressed: Arc<[u8]>,
    digest: String,
    changes_at: Option<DateTime<Utc>>,
    /// Signed before, and recently enough.
    signed: Option<Issued>,
}

impl Work {
    /// Packs and compresses: for a large hospital some milliseconds.
    fn of(marks: &Marks) -> Result<Self, StoreError> {
        let fault = |what: String| StoreError::internal(format!("a status list could not be made: {what}"));
        let places = usize::try_from(marks.places).map_err(|error| fault(error.to_string()))?;
        let mut statuses = Statuses::valid(places);
        // An ended badge is ended, whatever else is said of it, so that comes last.
        for (badges, status) in [(&marks.held, Status::Held), (&marks.ended, Status::Ended)] {
            for place in badges {
                if !u64::try_from(*place).is_ok_and(|place| statuses.set(place, status)) {
                    return Err(fault(format!("place {place} of {places}")));
                }
            }
        }
        let compressed = statuses.compressed().map_err(|error| fault(error.to_string()))?;
        let digest = Sha256::digest(statuses.bytes());
        Ok(Self {
            compressed: compressed.into(),
            digest: digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect(),
            changes_at: marks.changes_at,
            signed: None,
        })
    }

    fn sign(
        self,
        state: &State,
        site_id: Uuid,
        (version, key_id, key): (i64, Uuid, &SigningKey),
        (now, checked_at): (DateTime<Utc>, Instant),
    ) -> Result<Held, StoreError> {
        let period = period(now);
        let issued = match self.signed {
            Some(issued) => issued,
            None => {
                let terms = Terms {
                    subject: format!("{}{}", state.address(), list::path(&issuer(site_id))),
                    issued_at: now,
                    expires_at: Some(now + LIFE),
                    ttl_seconds: u64::try_from(TTL_SECONDS).ok(),
                };
                let token = list::sign(&terms, &self.compressed, key)
                    .map_err(|error| StoreError::internal(format!("a status list: {error}")))?;
                let etag = format!("W/\"{}-{}-{period}\"", self.digest, key.kid());
                Issued { token: token.into(), etag }
            }
        };
        Ok(Held {
            issued,
            version,
            key_id,
            compressed: self.compressed,
            digest: self.digest,
            period,
            changes_at: self.changes_at,
            checked_at,
        })
    }
}

/// The signed list of what all badges of an issuer are worth: an IETF token status list.
///
/// `issuer` is the `iss` of a badge and `sti` its place in the list: 0 valid, 1 ended, 2 held. A change shows within
/// a second. Send the `ETag` as `If-None-Match` to be told whether anything is new. The list is compressed already.
#[utoipa::path(tag = "badges", params(("issuer" = String, Path, description = "The `iss` of a badge.")), responses(
    (status = 200, description = "The list, as a signed JWT.", body = String,
     content_type = "application/statuslist+jwt"),
    (status = 304, description = "What the caller holds is what would be sent."),
    (status = 404, description = "No such issuer, or it has issued no badge yet.", body = ProblemBody)
))]
#[get("/api/v1/status_lists/{issuer}")]
pub(crate) async fn read_status_list(
    state: Data<State>,
    request: HttpRequest,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = path.into_inner();
    let sites = state.store.run(site::all).await?;
    let site = sites.iter().find(|site| issuer(site.id) == asked);
    let site = site.ok_or_else(|| StoreError::not_found("issuer"))?;
    let issued = state.status_lists.get(&state, site.id).await?;
    let issued = issued.ok_or_else(|| StoreError::not_found("issuer"))?;
    if let Some(unchanged) = not_modified(&request, &issued.etag, CACHE) {
        return Ok(unchanged);
    }
    Ok(HttpResponse::Ok()
        .content_type(list::CONTENT_TYPE)
        .insert_header((header::ETAG, issued.etag))
        .insert_header((header::CACHE_CONTROL, CACHE))
        .body(issued.token))
}
