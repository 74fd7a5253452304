//! Devices: gates and stations that sign in by a token.

use std::convert::identity;

use actix_web::{
    HttpResponse, delete, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{Role, op},
};
use sellion_store::{
    StoreError,
    device::{self, Device, NewDevice as NewRow},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::{Caller, SignIn},
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{SHORT, line},
};

/// What a device may be signed in as: nothing that decides about people or sets anything up.
const ROLES: [Role; 4] = [Role::Gate, Role::CheckIn, Role::Tester, Role::BadgeDesk];
/// A year and a month, so that a token outlives the yearly round in which it is renewed.
const LIFE_DAYS: u32 = 400;
/// Tokens that never end are forgotten.
const LIFE_DAYS_MAX: u32 = 1200;

/// A gate or a station.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeviceView {
    id: Uuid,
    #[schema(example = "Heron ward, east door")]
    name: String,
    role: Role,
    /// The one gate that a gate's device speaks for.
    gate_id: Option<Uuid>,
    /// The station it stands at.
    station_id: Option<Uuid>,
    /// When its token ends by itself.
    expires_at: DateTime<Utc>,
    /// When its token was taken away.
    revoked_at: Option<DateTime<Utc>>,
    created_at: DateTime<Utc>,
}

impl TryFrom<Device> for DeviceView {
    type Error = StoreError;

    fn try_from(row: Device) -> Result<Self, StoreError> {
        let role = row.role.parse().map_err(|error| StoreError::internal(format!("{error}")))?;
        let Device { id, name, gate_id, station_id, expires_at, revoked_at, created_at, .. } = row;
        Ok(Self { id, name, role, gate_id, station_id, expires_at, revoked_at, created_at })
    }
}

/// A device and the token it signs in with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeviceWithToken {
    #[serde(flatten)]
    device: DeviceView,
    /// Sent as `Authorization: Bearer ..`; the server keeps no copy, so this is the time to store it.
    #[schema(example = "eyJhbGciOiJIUzI1NiJ9.e30.c2lnbmF0dXJl")]
    token: String,
}

/// A device to be added.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewDevice {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Heron ward, east door")]
    name: String,
    /// `gate`, `check_in`, `tester` or `badge_desk`.
    role: Role,
    /// The gate it speaks for: needed for a gate, and only there.
    gate_id: Option<Uuid>,
    /// The station it stands at, for the other roles.
    station_id: Option<Uuid>,
    /// After how many days its token ends: 1 to 1200, 400 unless told.
    #[schema(example = 400, minimum = 1, maximum = 1200)]
    life_days: Option<u32>,
}

impl NewDevice {
    fn life(&self) -> Result<TimeDelta, Refusal> {
        let days = self.life_days.unwrap_or(LIFE_DAYS);
        if (1..=LIFE_DAYS_MAX).contains(&days) {
            return Ok(TimeDelta::days(days.into()));
        }
        Err(invalid("life_days", format!("A token lasts for 1 to {LIFE_DAYS_MAX} days.")))
    }

    fn row(self, site_id: Uuid) -> Result<NewRow, Refusal> {
        if !ROLES.contains(&self.role) {
            return Err(invalid("role", "This role is for people, not for devices."));
        }
        if (self.role == Role::Gate) != self.gate_id.is_some() {
            return Err(invalid("gate_id", "A gate's device needs its gate, and no other device has one."));
        }
        if self.role == Role::Gate && self.station_id.is_some() {
            return Err(invalid("station_id", "A gate's device stands at no station."));
        }
        Ok(NewRow {
            id: self.id,
            site_id,
            name: line(&self.name, "name", SHORT)?,
            role: self.role.as_str().to_owned(),
            gate_id: self.gate_id,
            station_id: self.station_id,
        })
    }
}

fn invalid(field: &str, sentence: impl Into<String>) -> Refusal {
    Refusal::new(Code::InvalidValue, sentence).field(field)
}

/// The devices of the site, those without a live token too.
#[utoipa::path(tag = "devices", params(PageQuery), responses((status = 200, body = Page<DeviceView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/devices")]
pub(crate) async fn list_devices(
    caller: Caller<op::ListDevices>,
    page: Query<PageQuery>,
) -> Result<Json<Page<DeviceView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| device::list(conn, site_id, window.fetch())).await?;
    let views: Vec<_> = rows.into_iter().map(DeviceView::try_from).collect::<Result<_, _>>()?;
    Ok(Json(Page::of(views, window, |view| view.id, identity)))
}

/// Adds a device and answers with its token, which is shown nowhere else.
///
/// The same request again answers with a newly signed token that ends at the same time.
#[utoipa::path(tag = "devices", responses((status = 201, body = DeviceWithToken), (status = 404, body = ProblemBody), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[post("/api/v1/devices")]
pub(crate) async fn create_device(
    caller: Caller<op::CreateDevice>,
    body: Json<NewDevice>,
) -> Result<HttpResponse, Problem> {
    let (site_id, body) = (caller.site_id(), body.into_inner());
    let life = body.life()?;
    let new = body.row(site_id)?;
    let row = caller.write(move |tx| device::create(tx, &new, life)).await?;
    let device = DeviceView::try_from(row)?;
    let sign_in = SignIn::device(device.id, site_id, device.role, device.gate_id, device.expires_at);
    let token = caller.state().tokens.sign(&sign_in)?;
    Ok(HttpResponse::Created().json(DeviceWithToken { device, token }))
}

/// Takes a device's token away: it is worth nothing from here on.
#[utoipa::path(tag = "devices", responses((status = 204), (status = 404, body = ProblemBody)))]
#[delete("/api/v1/devices/{device_id}")]
pub(crate) async fn delete_device(
    caller: Caller<op::DeleteDevice>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = id.into_inner();
    caller.write(move |tx| device::revoke(tx, id)).await?;
    Ok(HttpResponse::NoContent().finish())
}
