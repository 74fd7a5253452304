//! The stations of a day.

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    attempt::{ReadyPlan, ready_plans},
    day::StationPart,
    refusal::{Code, Refusal},
    roles::op,
    ruleset::RuleSet,
    supplies::Agent,
};
use sellion_store::{
    TextList,
    station::{self, NewStation as NewRow, Station, StationChange},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
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
    /// When it was closed; absent while it takes people.
    #[serde(skip_serializing_if = "Option::is_none")]
    closed_at: Option<DateTime<Utc>>,
    /// Counts the changes; also sent as `ETag`.
    #[schema(example = 1)]
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<Station> for StationView {
    fn from(station: Station) -> Self {
        let version = station.version();
        let Station { id, day_id, name, parts, hood_forbids_bending, closed_at, created_at, .. } = station;
        Self { id, day_id, name, parts: parts.parsed(), hood_forbids_bending, closed_at, version, created_at }
    }
}

/// What may change about a station; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct StationPatch {
    #[schema(example = "Station 3, by the window")]
    name: Option<String>,
    /// What can be done there from now on: at least one. A run that is under way goes on.
    #[schema(example = json!(["testing"]))]
    parts: Option<Vec<StationPart>>,
    /// Whether the wearer cannot bend over under its hood; attempts that are open keep their plan.
    hood_forbids_bending: Option<bool>,
    /// True closes the station: it calls nobody from now on, and whoever sits there is finished with. False opens it
    /// again.
    #[schema(example = true)]
    closed: Option<bool>,
}

impl StationPatch {
    fn change(self) -> Result<StationChange, Refusal> {
        let Self { name, parts, hood_forbids_bending, closed } = self;
        let name = name.map(|name| line(&name, "name", SHORT)).transpose()?;
        let parts = parts.map(|parts| listed(&parts)).transpose()?;
        Ok(StationChange { name, parts, hood_forbids_bending, closed })
    }
}

/// At least one part, in the order of the list, so that the same parts in another order are a repeat.
fn listed(parts: &[StationPart]) -> Result<TextList, Refusal> {
    let parts: Vec<&str> =
        StationPart::ALL.iter().filter(|part| parts.contains(part)).map(|part| part.as_str()).collect();
    if parts.is_empty() {
        let sentence = "Say what can be done at the station: at least one part.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("parts"));
    }
    Ok(TextList::of(parts))
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
        let parts = listed(&self.parts)?;
        let name = line(&self.name, "name", SHORT)?;
        let hood_forbids_bending = self.hood_forbids_bending;
        Ok(NewRow { id: self.id, site_id, day_id, name, parts, hood_forbids_bending })
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
    Ok(with_etag(HttpResponse::Created(), station.version()).json(StationView::from(station)))
}

/// Changes, closes or reopens a station.
#[utoipa::path(tag = "stations", params(IfMatch), responses(
    (status = 200, body = StationView),
    (status = 404, description = "No such station here.", body = ProblemBody),
    (status = 409, description = "Somebody changed it meanwhile, or another has the name.", body = ProblemBody),
    (status = 422, description = "A station needs a name and a part.", body = ProblemBody)
))]
#[patch("/api/v1/stations/{station_id}")]
pub(crate) async fn update_station(
    caller: Caller<op::UpdateStation>,
    station_id: Path<Uuid>,
    version: IfMatch,
    body: Json<StationPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, change) = (*station_id, body.into_inner().change()?);
    let station = caller.write(move |tx| station::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), station.version()).json(StationView::from(station)))
}

/// What a station needs to go on when it is out of reach: the rule set's screening, and the plan of every attempt.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StationPlansView {
    station_id: Uuid,
    rule_set_name: String,
    rule_set_version: String,
    screening: ScreeningPlanView,
    /// One for each method, level and kind of facepiece.
    attempts: Vec<ReadyPlan>,
}

/// How a screening with a taste agent runs.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScreeningPlanView {
    /// The agents that are accepted, the one to begin with in front.
    agents: Vec<Agent>,
    /// Sets at most, one for each level.
    #[schema(example = 3)]
    sets: u8,
    /// Squeezes of one set.
    #[schema(example = 10)]
    set_squeezes: u8,
    /// Seconds without food, drink other than plain water, smoke or gum.
    #[schema(example = 900)]
    no_intake_seconds: u32,
    /// Whether plain water is tried before the first set.
    #[schema(example = false)]
    plain_water_check: bool,
}

impl ScreeningPlanView {
    fn of(rules: &RuleSet) -> Self {
        Self {
            agents: rules.agents.clone(),
            sets: rules.screening.sets,
            set_squeezes: rules.screening.set_squeezes,
            no_intake_seconds: rules.screening.no_intake_seconds,
            plain_water_check: rules.screening.plain_water_check,
        }
    }
}

/// The plans a station needs when it is out of reach; an attempt that was opened has its own.
#[utoipa::path(tag = "stations", responses(
    (status = 200, body = StationPlansView),
    (status = 404, description = "No such station here.", body = ProblemBody)
))]
#[get("/api/v1/stations/{station_id}/plans")]
pub(crate) async fn read_station_plans(
    caller: Caller<op::ReadStationPlans>,
    station_id: Path<Uuid>,
) -> Result<Json<StationPlansView>, Problem> {
    let (site_id, station_id) = (caller.site_id(), *station_id);
    let (station, rules) =
        caller.read_store(move |conn| station::with_rules(conn, site_id, station_id)).await?;
    Ok(Json(StationPlansView {
        station_id: station.id,
        rule_set_name: rules.name.clone(),
        rule_set_version: rules.version.clone(),
        screening: ScreeningPlanView::of(&rules),
        attempts: ready_plans(&rules, station.hood_forbids_bending),
    }))
}
