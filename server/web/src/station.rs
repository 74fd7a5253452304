//! The stations of a day.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    day::StationPart,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    TextList,
    station::{self, NewStation as NewRow, Station},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{SHORT, line},
};

/// One place of a day.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StationView {
    id: Uuid,
    day_id: Uuid,
    /// What the people there call it.
    #[schema(example = "Station 3")]
    name: String,
    /// What can be done there.
    parts: Vec<StationPart>,
    /// Whether the wearer cannot bend over under its hood; then they jog in place instead.
    hood_forbids_bending: bool,
    created_at: DateTime<Utc>,
}

impl From<Station> for StationView {
    fn from(station: Station) -> Self {
        let Station { id, day_id, name, parts, hood_forbids_bending, created_at } = station;
        Self { id, day_id, name, parts: parts.parsed(), hood_forbids_bending, created_at }
    }
}

/// A station to be set up.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewStation {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Station 3")]
    name: String,
    /// What can be done there: at least one.
    #[schema(example = json!(["screening", "testing"]))]
    parts: Vec<StationPart>,
    /// Whether the wearer cannot bend over under its hood.
    #[serde(default)]
    hood_forbids_bending: bool,
}

impl NewStation {
    fn row(self, site_id: Uuid, day_id: Uuid) -> Result<NewRow, Refusal> {
        // In the order of the list, so that the same parts in another order are a repeat.
        let parts: Vec<&str> = StationPart::ALL
            .iter()
            .filter(|part| self.parts.contains(part))
            .map(|part| part.as_str())
            .collect();
        if parts.is_empty() {
            let sentence = "Say what can be done at the station: at least one part.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("parts"));
        }
        let name = line(&self.name, "name", SHORT)?;
        let hood_forbids_bending = self.hood_forbids_bending;
        Ok(NewRow { id: self.id, site_id, day_id, name, parts: TextList::of(parts), hood_forbids_bending })
    }
}

/// The stations of a day.
#[utoipa::path(tag = "stations", params(PageQuery), responses(
    (status = 200, body = Page<StationView>),
    (status = 404, description = "No such day here.", body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}/stations")]
pub(crate) async fn list_stations(
    caller: Caller<op::ListStations>,
    day_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<StationView>>, Problem> {
    let (site_id, day_id, window) = (caller.site_id(), *day_id, page.window()?);
    let rows = caller.read_store(move |conn| station::list(conn, site_id, day_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |station| station.id, StationView::from)))
}

/// Sets up a station.
#[utoipa::path(tag = "stations", responses(
    (status = 201, body = StationView),
    (status = 404, description = "No such day here.", body = ProblemBody),
    (status = 409, description = "The day has a station of this name, or the id is another's.", body = ProblemBody),
    (status = 422, description = "A station needs a name and a part.", body = ProblemBody)
))]
#[post("/api/v1/days/{day_id}/stations")]
pub(crate) async fn create_station(
    caller: Caller<op::CreateStation>,
    day_id: Path<Uuid>,
    body: Json<NewStation>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), *day_id)?;
    let station = caller.write(move |tx| station::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(StationView::from(station)))
}
