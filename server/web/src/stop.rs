//! Stops of anything but a lot, and their releases: what must not be used, and whose results are in doubt.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::stop::{self, NewStop as NewRow, NewStopRelease as NewReleaseRow, Stop};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, moment},
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::{LONG, line},
};

/// How far a stop reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Reach {
    /// Only what stands on it by the record is held.
    Surely,
    /// What may stand on it is held as well.
    #[default]
    Possibly,
}

impl Reach {
    /// From what is stored.
    pub(crate) fn of(stored: Option<&str>) -> Self {
        if stored.is_some() { Self::Possibly } else { Self::Surely }
    }

    /// As it is stored: older stops, which reach no further than the record, have nothing there.
    pub(crate) fn stored(self) -> Option<String> {
        (self == Self::Possibly).then(|| "possibly".to_owned())
    }
}

/// The release of a stop.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StopReleaseView {
    pub(crate) id: Uuid,
    pub(crate) reason: String,
    /// Who decided, by the name that is shown; absent where it was the program.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ines Valdrun")]
    pub(crate) by: Option<String>,
    pub(crate) happened_at: DateTime<Utc>,
}

/// A stop, with its release.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StopView {
    id: Uuid,
    #[serde(skip_serializing_if = "Option::is_none")]
    bottle_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fill_id: Option<Uuid>,
    /// A nebulizer or a hood.
    #[serde(skip_serializing_if = "Option::is_none")]
    equipment_id: Option<Uuid>,
    /// The user whose runs are in doubt.
    #[serde(skip_serializing_if = "Option::is_none")]
    tester_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    station_id: Option<Uuid>,
    /// The first moment that is in doubt; absent where there is no first one.
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<DateTime<Utc>>,
    /// The first moment after it; absent where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    until: Option<DateTime<Utc>>,
    reach: Reach,
    reason: String,
    /// Who decided, by the name that is shown; absent where it was the program.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ines Valdrun")]
    by: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
    /// Absent while the stop is in force.
    #[serde(skip_serializing_if = "Option::is_none")]
    release: Option<StopReleaseView>,
}

impl From<Stop> for StopView {
    fn from(Stop { stop, recorded_at, by, release }: Stop) -> Self {
        let release = release.map(|(row, by)| StopReleaseView {
            id: row.id,
            reason: row.reason,
            by,
            happened_at: row.happened_at,
        });
        Self {
            id: stop.id,
            bottle_id: stop.bottle_id,
            fill_id: stop.fill_id,
            equipment_id: stop.equipment_id,
            tester_id: stop.tester_id,
            station_id: stop.station_id,
            from: stop.from_at,
            until: stop.until_at,
            reach: Reach::of(stop.reach.as_deref()),
            reason: stop.reason,
            by,
            happened_at: stop.happened_at,
            recorded_at,
            release,
        }
    }
}

/// A stop: exactly one thing is named. A lot is stopped under its own address.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewStop {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    bottle_id: Option<Uuid>,
    fill_id: Option<Uuid>,
    /// A nebulizer or a hood.
    equipment_id: Option<Uuid>,
    /// The user whose runs are in doubt.
    tester_id: Option<Uuid>,
    /// A station; then `from` and `until` are needed.
    station_id: Option<Uuid>,
    /// The first moment that is in doubt, for a nebulizer, a hood, a tester or a station.
    #[schema(example = "2026-03-10T09:00:00Z")]
    from: Option<DateTime<Utc>>,
    /// The first moment after it.
    #[schema(example = "2026-03-10T11:00:00Z")]
    until: Option<DateTime<Utc>>,
    /// Whether what may stand on it is held as well; it is unless told otherwise.
    #[serde(default)]
    reach: Reach,
    /// Why, in words.
    #[schema(example = "the nebulizer sprays in drops")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewStop {
    fn row(self, site_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let named = [self.bottle_id, self.fill_id, self.equipment_id, self.tester_id, self.station_id];
        if named.iter().flatten().count() != 1 {
            let sentence = "Name one thing: a bottle, a fill, a nebulizer or hood, a tester, or a station.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("bottle_id"));
        }
        let timed = self.bottle_id.or(self.fill_id).is_none();
        let (from_at, until_at) = span(self.from, self.until, timed, self.station_id.is_some())?;
        Ok(NewRow {
            id: self.id,
            site_id,
            bottle_id: self.bottle_id,
            fill_id: self.fill_id,
            equipment_id: self.equipment_id,
            tester_id: self.tester_id,
            station_id: self.station_id,
            from_at,
            until_at,
            reach: self.reach.stored(),
            reason: line(&self.reason, "reason", LONG)?,
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

type Moment = Option<DateTime<Utc>>;

/// A span of time as it is asked for: only where time matters, both ends where it is needed, and not backwards.
pub(crate) fn span(
    from: Moment,
    until: Moment,
    timed: bool,
    needed: bool,
) -> Result<(Moment, Moment), Refusal> {
    let refused = |field, sentence: &str| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
    if !timed && (from.is_some() || until.is_some()) {
        return refused("from", "A lot, a bottle and a fill are in doubt for all time: leave the times out.");
    }
    if needed && (from.is_none() || until.is_none()) {
        return refused("from", "Of a station, say from when until when.");
    }
    let from = from.map(|at| moment(at, "from")).transpose()?;
    let until = until.map(|at| moment(at, "until")).transpose()?;
    if from.zip(until).is_some_and(|(from, until)| until <= from) {
        return refused("until", "The end lies before the beginning.");
    }
    Ok((from, until))
}

/// A release.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewStopRelease {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Why, in words.
    #[schema(example = "it was another nebulizer")]
    reason: String,
    #[schema(example = "2026-03-11T08:00:00Z")]
    happened_at: DateTime<Utc>,
}

/// Stops something: it is refused for use, and clearances that stand on it are held.
#[utoipa::path(tag = "stops", responses(
    (status = 201, body = StopView),
    (status = 404, description = "No such thing here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another stop.", body = ProblemBody),
    (status = 422, description = "Not exactly one thing is named, or the times make no span.", body = ProblemBody)
))]
#[post("/api/v1/stops")]
pub(crate) async fn create_stop(
    caller: Caller<op::CreateStop>,
    body: Json<NewStop>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), caller.now)?;
    let made = caller.write(move |tx| stop::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(StopView::from(made)))
}

/// Releases a stop: what was held by it alone counts again.
#[utoipa::path(tag = "stops", responses(
    (status = 201, body = StopView),
    (status = 404, description = "No such stop here.", body = ProblemBody),
    (status = 409, description = "It was released before, or the id is another's.", body = ProblemBody),
    (status = 422, description = "A reason is needed.", body = ProblemBody)
))]
#[post("/api/v1/stops/{stop_id}/releases")]
pub(crate) async fn create_stop_release(
    caller: Caller<op::CreateStopRelease>,
    stop_id: Path<Uuid>,
    body: Json<NewStopRelease>,
) -> Result<HttpResponse, Problem> {
    let NewStopRelease { id, reason, happened_at } = body.into_inner();
    let (reason, happened_at) = (line(&reason, "reason", LONG)?, happened(happened_at, caller.now)?);
    let new = NewReleaseRow { id, site_id: caller.site_id(), stop_id: *stop_id, reason, happened_at };
    let made = caller.write(move |tx| stop::release(tx, &new)).await?;
    Ok(HttpResponse::Created().json(StopView::from(made)))
}

/// Stops of anything but a lot, by id.
#[utoipa::path(tag = "stops", params(PageQuery), responses((status = 200, body = Page<StopView>)))]
#[get("/api/v1/stops")]
pub(crate) async fn list_stops(
    caller: Caller<op::ListStops>,
    page: Query<PageQuery>,
) -> Result<Json<Page<StopView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| stop::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |row| row.stop.id, StopView::from)))
}
