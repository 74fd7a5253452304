//! Gate packs: made when a gate asks and something has changed, and held until then.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    time::{Duration, Instant},
};

use actix_web::{
    HttpRequest, HttpResponse, get,
    http::header::{self, HeaderName, HeaderValue},
    web::{Bytes, Data},
};
use chrono::{DateTime, Utc};
use sellion_badge::{
    KeyRing, Serial, SigningKey,
    pack::{BadgeColumns, Clearance, Current, Draft, Made, PackRespirator},
};
use sellion_rules::roles::op;
use sellion_store::{
    StoreError,
    gate_pack::{self, Edition, GateKnowledge, PackBadge, SiteKnowledge},
};
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::issuer,
    keys::ring_of,
    problem::{Problem, ProblemBody},
    state::State,
    version::not_modified,
};

/// The header in which the server says that a pack is current, signed.
const CURRENT: &str = "sellion-pack-current";
/// What a pack is served as.
const CONTENT_TYPE: &str = "application/jose";
/// A pack is signed anew after this time even when nothing changed, so that the status list in it does not grow old.
const LIFE: Duration = Duration::from_secs(3600);
/// Whoever keeps a pack asks whether it still holds.
const CACHE: &str = "private, no-cache";

/// A pack as it is held.
struct Pack {
    text: Bytes,
    content: String,
    version: (i64, i64),
    key_id: Uuid,
    made_at: Instant,
}

impl Pack {
    fn made_under(&self, edition: &Edition) -> bool {
        self.version == edition.version()
            && edition.statuses.key.as_ref().is_some_and(|key| key.id == self.key_id)
            && self.made_at.elapsed() < LIFE
    }
}

/// What the packs of all gates of a site have in common, the columns already packed.
struct SitePart {
    version: i64,
    ring: KeyRing,
    columns: BadgeColumns,
    knowledge: SiteKnowledge,
}

/// The packs of all gates.
#[derive(Default)]
pub(crate) struct Packs {
    held: Mutex<HashMap<Uuid, Arc<Pack>>>,
    making: tokio::sync::Mutex<HashMap<Uuid, Arc<SitePart>>>,
}

impl Packs {
    fn held(&self) -> MutexGuard<'_, HashMap<Uuid, Arc<Pack>>> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn current(&self, gate_id: Uuid, edition: &Edition) -> Option<Arc<Pack>> {
        self.held().get(&gate_id).filter(|pack| pack.made_under(edition)).cloned()
    }
}

/// Everything this gate has to know to answer without the server, in one signed document.
///
/// A compact JWS (RFC 7515) of the type `sellion-gate-pack+jwt`. It holds the keys, the status list, the policy in
/// force and those to come, the respirators these accept, and by the place of each badge in the status list how its
/// clearances for those respirators stand and until when. It holds no name, no staff number, no reason and nothing of
/// another gate. Only a gate's own device gets it. The header `sellion-pack-current` carries, signed as well, that the
/// pack with this `content` was current at that moment. Send the `ETag` as `If-None-Match`: a 304 with that header makes
/// the pack held as young as the answer.
#[utoipa::path(tag = "gates", responses(
    (status = 200, description = "The pack, as a compact JWS.", body = String, content_type = "application/jose"),
    (status = 304, description = "What the gate holds is current; the header says since when."),
    (status = 404, description = "The caller is not the device of a gate.", body = ProblemBody)
))]
#[get("/api/v1/gate_pack")]
pub(crate) async fn read_gate_pack(
    caller: Caller<op::ReadGatePack>,
    state: Data<State>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let gate_id = caller.sign_in().gate.ok_or_else(|| StoreError::not_found("gate"))?;
    let site_id = caller.site_id();
    // Whoever signs in by a token that was taken away ends here, before anything is made.
    let mut edition = caller.read_store(move |conn| gate_pack::edition(conn, site_id)).await?;
    if edition.statuses.key.is_none() {
        edition = first_key(&caller, state.clone()).await?;
    }
    let pack = match state.packs.current(gate_id, &edition) {
        Some(pack) => pack,
        None => make(&caller, gate_id).await?,
    };
    let row =
        edition.statuses.key.as_ref().ok_or_else(|| StoreError::internal("a site without a signing key"))?;
    let key = state.keys.opened(row)?;
    // As of when the request arrived: what is written after it was read is not known.
    let current = Current { gate: gate_id, content: pack.content.clone(), at: caller.now };
    let word = current.sign(&key).map_err(fault)?;
    let word = HeaderValue::from_str(&word).map_err(fault)?;
    let etag = format!("\"{}\"", pack.content);
    let mut response = not_modified(&request, &etag, CACHE).unwrap_or_else(|| {
        HttpResponse::Ok()
            .content_type(CONTENT_TYPE)
            .insert_header((header::ETAG, etag))
            .insert_header((header::CACHE_CONTROL, CACHE))
            .body(pack.text.clone())
    });
    response.headers_mut().insert(HeaderName::from_static(CURRENT), word);
    Ok(response)
}

fn fault(error: impl std::fmt::Display) -> StoreError {
    StoreError::internal(format!("a gate pack could not be made: {error}"))
}

/// A site that never issued a badge has no key yet, and its gates need to know what they know all the same.
async fn first_key(caller: &Caller<op::ReadGatePack>, state: Data<State>) -> Result<Edition, Problem> {
    let site_id = caller.site_id();
    caller
        .write(move |tx| {
            state.keys.signing_key(tx)?;
            gate_pack::edition(tx.conn, site_id)
        })
        .await
}

/// Makes the pack of a gate. One is made at a time; whoever came meanwhile finds it.
async fn make(caller: &Caller<op::ReadGatePack>, gate_id: Uuid) -> Result<Arc<Pack>, Problem> {
    let (state, site_id, now) = (caller.state(), caller.site_id(), caller.now);
    let mut parts = state.packs.making.lock().await;
    let edition = state.store.run(move |conn| gate_pack::edition(conn, site_id)).await?;
    if let Some(pack) = state.packs.current(gate_id, &edition) {
        return Ok(pack);
    }
    let part = match parts.get(&site_id).filter(|part| part.version == edition.statuses.version) {
        Some(part) => Arc::clone(part),
        None => {
            let knowledge = state.store.run(move |conn| gate_pack::of_site(conn, site_id, now)).await?;
            let part = actix_web::web::block(move || site_part(knowledge)).await.map_err(fault)??;
            let part = Arc::new(part);
            parts.insert(site_id, Arc::clone(&part));
            part
        }
    };
    let gate = state.store.run(move |conn| gate_pack::of_gate(conn, (site_id, gate_id), now)).await?;
    let list = state.status_lists.get(state, site_id).await?;
    let list = list.ok_or_else(|| StoreError::internal("a site with a key has no status list"))?;
    let row =
        part.knowledge.edition.statuses.key.as_ref().ok_or_else(|| StoreError::internal("no signing key"))?;
    let (key, key_id, version) = (state.keys.opened(row)?, row.id, edition.version());
    // What the list says, without when it was signed.
    let statuses = list.etag.rsplit_once('-').map_or(list.etag.clone(), |(says, _)| says.to_owned());
    let sources = Sources { issuer: issuer(site_id), gate_id, now, list: list.token, statuses, key };
    let made = actix_web::web::block(move || sources.sign(&part, gate)).await.map_err(fault)??;
    let Made { text, content } = made;
    let pack = Arc::new(Pack { text: text.into(), content, version, key_id, made_at: Instant::now() });
    state.packs.held().insert(gate_id, Arc::clone(&pack));
    Ok(pack)
}

fn site_part(knowledge: SiteKnowledge) -> Result<SitePart, StoreError> {
    let badges = knowledge.badges.iter().map(|badge| {
        let serial = Serial::parse(&badge.serial).map_err(fault)?;
        Ok((usize::try_from(badge.index).map_err(fault)?, serial, badge.expires_at, badge.status))
    });
    let mut columns = BadgeColumns::of(badges.collect::<Result<Vec<_>, StoreError>>()?);
    if knowledge.unclaimed.closed_at.is_some() {
        let from = |badge: &PackBadge| Some((usize::try_from(badge.index).ok()?, badge.unclaimed_from?));
        columns = columns.with_unclaimed(knowledge.badges.iter().filter_map(from));
    }
    let ring = ring_of(knowledge.keys.clone())?;
    Ok(SitePart { version: knowledge.edition.statuses.version, ring, columns, knowledge })
}

/// What a pack is made of beside what the store knows.
struct Sources {
    issuer: String,
    gate_id: Uuid,
    now: DateTime<Utc>,
    list: Bytes,
    statuses: String,
    key: Arc<SigningKey>,
}

impl Sources {
    /// For a large hospital some tens of milliseconds.
    fn sign(self, part: &SitePart, gate: GateKnowledge) -> Result<Made, StoreError> {
        let places: HashMap<Uuid, usize> =
            gate.respirators.iter().enumerate().map(|(place, row)| (row.0.respirator, place)).collect();
        let clearances = part.knowledge.clearances.iter().filter_map(|row| {
            Some(Clearance {
                index: usize::try_from(row.index).ok()?,
                respirator: *places.get(&row.respirator_id)?,
                state: row.state,
                valid_from: row.valid_from,
                valid_until: row.valid_until,
            })
        });
        let respirators = gate.respirators.iter().cloned();
        let draft = Draft {
            issuer: self.issuer,
            gate: self.gate_id,
            gate_name: gate.name,
            zone: gate.time_zone,
            issued_at: self.now,
            keys: &part.ring,
            status_list: String::from_utf8_lossy(&self.list).into_owned(),
            policies: gate.policies,
            respirators: respirators
                .map(|(listed, number, name)| PackRespirator { listed, number, name })
                .collect(),
            badges: &part.columns,
            clearances: clearances.collect(),
            unclaimed_after_days: part
                .knowledge
                .unclaimed
                .closed_at
                .map(|_| part.knowledge.unclaimed.after_days),
        };
        draft.sign(self.statuses.as_bytes(), &self.key).map_err(fault)
    }
}
