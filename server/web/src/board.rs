//! The board of a day: will we finish, what each station does, and what waits for somebody's name.

use std::collections::{BTreeSet, HashMap};

use actix_web::{
    get,
    web::{Json, Path},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_planning::pace::{TimeLeft, time_left};
use sellion_rules::{
    dates::local_date,
    day::{StationPart, VisitStep},
    roles::op,
    supplies::{Agent, Solution},
};
use sellion_store::{
    PgConnection, StoreError, alarm,
    board::{self, AtWork, Heads},
    day, fill, site,
    station::{self, Station},
    usage,
};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    alarm::AlarmView,
    auth::Caller,
    problem::{Problem, ProblemBody},
    usage::whole,
};

/// The pace is that of the last hour.
const PACE_SECONDS: i64 = 3600;
/// After so short a time the first ones to finish say nothing about the others (common practice, no source).
const PACE_SECONDS_MIN: i64 = 900;

/// The heads of a day. Each is counted once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HeadsView {
    /// Have passed.
    #[schema(example = 112)]
    done: u32,
    /// Were referred to another kind of test.
    #[schema(example = 5)]
    referred: u32,
    /// Are at a station.
    #[schema(example = 6)]
    at_station: u32,
    /// Are here and wait, or are held back.
    #[schema(example = 19)]
    waiting: u32,
    /// Are on the roster without a clearance in date for any respirator, and have not come. Nobody need come today: who is
    /// expected when is not known here.
    #[schema(example = 158)]
    not_arrived: u32,
}

/// The pace of the last hour, and what follows from it. An estimate: people do not come evenly.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PaceView {
    /// Visits that ended in that time.
    #[schema(example = 31)]
    finished: u32,
    /// The time it was measured over: an hour, or less at the beginning of a day.
    #[schema(example = 3600)]
    over_seconds: u32,
    /// Until everybody who is here is done; absent while nobody finished or the day is too young.
    #[serde(skip_serializing_if = "Option::is_none")]
    those_here: Option<TimeLeft>,
    /// Until everybody who has not come is done as well.
    #[serde(skip_serializing_if = "Option::is_none")]
    everybody: Option<TimeLeft>,
}

impl PaceView {
    fn of(heads: &Heads, now: DateTime<Utc>) -> Self {
        let open = heads.first_at.map_or(0, |first| (now - first).num_seconds());
        let over = open.clamp(0, PACE_SECONDS);
        let finished = u64::from(whole(heads.finished));
        let here = u64::from(whole(heads.at_station)) + u64::from(whole(heads.waiting));
        let told = |left| {
            (over >= PACE_SECONDS_MIN).then(|| time_left(left, finished, f64::from(whole(over)))).flatten()
        };
        Self {
            finished: whole(heads.finished),
            over_seconds: whole(over),
            those_here: told(here),
            everybody: told(here + u64::from(whole(heads.not_arrived))),
        }
    }
}

/// What a nebulizer at a station holds and may be used for.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct UsableFill {
    agent: Agent,
    solution: Solution,
    /// The first moment at which it may no longer be used.
    usable_until: DateTime<Utc>,
}

/// One station as far as it is known.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BoardStation {
    station_id: Uuid,
    #[schema(example = "Station 3")]
    name: String,
    parts: Vec<StationPart>,
    /// When it was closed; absent while it takes people.
    #[serde(skip_serializing_if = "Option::is_none")]
    closed_at: Option<DateTime<Utc>>,
    /// The visit it has; absent while it has nobody.
    #[serde(skip_serializing_if = "Option::is_none")]
    visit_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 41)]
    ticket: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    step: Option<VisitStep>,
    #[serde(skip_serializing_if = "Option::is_none")]
    called_at: Option<DateTime<Utc>>,
    /// When the server last heard of anything done there; absent where it never did.
    #[serde(skip_serializing_if = "Option::is_none")]
    heard_at: Option<DateTime<Utc>>,
    /// Screenings and attempts that ended there.
    #[schema(example = 44)]
    runs: u32,
    fills: Vec<UsableFill>,
    /// Solutions that it needs and of which no nebulizer there holds a usable fill; a closed station needs none.
    short_of: Vec<Solution>,
}

/// The board of a day. It only tells: nothing on it changes a result.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BoardView {
    /// The moment for which it is true.
    at: DateTime<Utc>,
    closes_at: DateTime<Utc>,
    heads: HeadsView,
    pace: PaceView,
    /// By name.
    stations: Vec<BoardStation>,
    /// Oldest first; those that somebody has taken on too.
    alarms: Vec<AlarmView>,
}

/// How far a day has come, how long the rest takes at the pace of the last hour, what each station does and lacks, and
/// what waits for somebody's name.
#[utoipa::path(tag = "days", responses(
    (status = 200, body = BoardView), (status = 404, description = "No such day here.", body = ProblemBody)
))]
#[get("/api/v1/days/{day_id}/board")]
pub(crate) async fn read_board(
    caller: Caller<op::ReadBoard>,
    day_id: Path<Uuid>,
) -> Result<Json<BoardView>, Problem> {
    let (site_id, day_id, now) = (caller.site_id(), *day_id, caller.now);
    Ok(Json(caller.read_store(move |conn| read(conn, site_id, day_id, now)).await?))
}

fn read(
    conn: &mut PgConnection,
    site_id: Uuid,
    day_id: Uuid,
    now: DateTime<Utc>,
) -> Result<BoardView, StoreError> {
    let day = day::find(conn, site_id, day_id)?;
    let today = local_date(now, site::zone(conn, site_id)?);
    let since = now - TimeDelta::seconds(PACE_SECONDS);
    let heads = board::heads(conn, (site_id, day_id), (since, now), today)?;
    let alarms = alarm::of_day(conn, site_id, day_id)?.into_iter().map(AlarmView::try_from);
    Ok(BoardView {
        at: now,
        closes_at: day.closes_at,
        pace: PaceView::of(&heads, now),
        heads: HeadsView {
            done: whole(heads.done),
            referred: whole(heads.referred),
            at_station: whole(heads.at_station),
            waiting: whole(heads.waiting),
            not_arrived: whole(heads.not_arrived),
        },
        alarms: alarms.collect::<Result<_, _>>()?,
        stations: stations(conn, site_id, &day, now)?,
    })
}

fn stations(
    conn: &mut PgConnection,
    site_id: Uuid,
    day: &day::Day,
    now: DateTime<Utc>,
) -> Result<Vec<BoardStation>, StoreError> {
    let mut fills = usable_fills(conn, site_id, day, now)?;
    let mut set_up: HashMap<Uuid, Station> = station::list(conn, site_id, day.id, (Uuid::nil(), i64::MAX))?
        .into_iter()
        .map(|station| (station.id, station))
        .collect();
    board::stations(conn, site_id, day.id)?
        .into_iter()
        .filter_map(|at_work| Some((set_up.remove(&at_work.station_id)?, at_work)))
        .map(|(station, at_work)| {
            let fills = fills.remove(&station.id).unwrap_or_default();
            shown(at_work, &station, fills)
        })
        .collect()
}

fn shown(at_work: AtWork, station: &Station, fills: Vec<UsableFill>) -> Result<BoardStation, StoreError> {
    let (parts, closed_at): (Vec<StationPart>, _) = (station.parts.parsed(), station.closed_at);
    let there: BTreeSet<Solution> = fills.iter().map(|fill| fill.solution).collect();
    let needed = [(StationPart::Screening, Solution::Screening), (StationPart::Testing, Solution::Test)];
    let short_of = needed
        .into_iter()
        .filter(|(part, solution)| closed_at.is_none() && parts.contains(part) && !there.contains(solution))
        .map(|(_, solution)| solution)
        .collect();
    let step = at_work.step.map(|step| step.parse()).transpose();
    Ok(BoardStation {
        station_id: at_work.station_id,
        name: at_work.name,
        parts,
        closed_at,
        visit_id: at_work.visit_id,
        ticket: at_work.ticket,
        step: step.map_err(|error| StoreError::internal(format!("a stored step: {error}")))?,
        called_at: at_work.called_at,
        heard_at: at_work.heard_at,
        runs: whole(at_work.runs),
        fills,
        short_of,
    })
}

/// What the nebulizers of each station hold and may be used for at that moment.
fn usable_fills(
    conn: &mut PgConnection,
    site_id: Uuid,
    day: &day::Day,
    now: DateTime<Utc>,
) -> Result<HashMap<Uuid, Vec<UsableFill>>, StoreError> {
    let (rules, zone) = (day::rules(conn, day)?, site::zone(conn, site_id)?);
    let mut found: HashMap<Uuid, Vec<UsableFill>> = HashMap::new();
    for row in usage::held(conn, day.id)? {
        let filled = fill::find(conn, site_id, row.fill_id)?;
        let Ok(usable_until) = filled.usable(&rules, now, zone) else { continue };
        let (agent, solution) = (filled.supply.lot.agent()?, filled.supply.lot.solution()?);
        found.entry(row.station_id).or_default().push(UsableFill { agent, solution, usable_until });
    }
    Ok(found)
}
