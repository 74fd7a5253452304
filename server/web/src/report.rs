//! Reports that people look at: shares of passes, levels of screenings, the flow of a day, with their uncertainty.

use actix_web::{
    get,
    web::{Json, Query},
};
use chrono::{DateTime, Days, NaiveDate, Utc};
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    roles::op,
    statistics::wilson,
    supplies::Agent,
};
use sellion_store::{
    PgConnection, StoreError, day,
    report::{self, HalfHour, Period, Screened, Tried},
    site,
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::plausible,
    problem::{Problem, ProblemBody},
    usage::whole,
};

/// Groups of fewer people are not told apart, so that nobody is recognised in a printed report (common practice, no
/// source).
const SMALLEST_GROUP: u32 = 5;
const SMALLEST_GROUP_MAX: u32 = 1000;

/// Which results.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReportQuery {
    /// The first day of testing; a year before `until` unless told.
    #[param(example = "2026-01-01")]
    from: Option<NaiveDate>,
    /// The last one; today unless told.
    #[param(example = "2026-12-31")]
    until: Option<NaiveDate>,
    /// Those of one fit-testing day only, with its flow.
    day_id: Option<Uuid>,
    /// Groups of fewer people are not shown: 5 or more.
    #[param(example = 5)]
    smallest_group: Option<u32>,
}

impl ReportQuery {
    fn smallest_group(&self) -> Result<u32, Refusal> {
        let smallest = self.smallest_group.unwrap_or(SMALLEST_GROUP);
        if (SMALLEST_GROUP..=SMALLEST_GROUP_MAX).contains(&smallest) {
            return Ok(smallest);
        }
        let sentence =
            format!("The smallest group that is shown has {SMALLEST_GROUP} to {SMALLEST_GROUP_MAX} people.");
        Err(Refusal::new(Code::InvalidValue, sentence).field("smallest_group"))
    }

    fn period(&self, today: NaiveDate) -> Result<Period, Refusal> {
        let until = plausible(self.until.unwrap_or(today), "until")?;
        let from = self.from.map_or_else(|| Ok(until - Days::new(365)), |from| plausible(from, "from"))?;
        if from > until {
            let sentence = "The first day lies after the last one.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("from"));
        }
        Ok(Period { from, until, day_id: self.day_id })
    }
}

/// A share with its 95 % interval.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShareView {
    #[schema(example = 81)]
    count: u32,
    /// Of how many.
    #[schema(example = 263)]
    of: u32,
    /// From 0 to 1.
    #[schema(example = 0.308)]
    share: f64,
    /// The lower end of the score interval (Wilson 1927).
    #[schema(example = 0.2553)]
    low: f64,
    /// The upper end.
    #[schema(example = 0.3662)]
    high: f64,
}

impl ShareView {
    /// None of nothing.
    fn of(count: i64, of: i64) -> Option<Self> {
        let (count, of) = (whole(count), whole(of));
        let interval = wilson(u64::from(count), u64::from(of))?;
        Some(Self {
            count,
            of,
            share: f64::from(count) / f64::from(of),
            low: interval.low,
            high: interval.high,
        })
    }
}

/// The attempts on one respirator. Voids and stops count neither way.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PassesView {
    respirator_id: Uuid,
    /// Make, model and style.
    #[schema(example = "Ostrel cup")]
    name: String,
    #[schema(example = "small")]
    size: String,
    /// Different people; absent of a group too small to be shown, and with it everything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 240)]
    people: Option<u32>,
    /// Passes among passes and fails; absent where there was neither.
    #[serde(skip_serializing_if = "Option::is_none")]
    passes: Option<ShareView>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 7)]
    voids: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    stops: Option<u32>,
}

impl PassesView {
    fn of(row: Tried, smallest: u32) -> Self {
        let shown = whole(row.people) >= smallest;
        let told = |count: i64| shown.then(|| whole(count));
        Self {
            people: told(row.people),
            passes: shown.then(|| ShareView::of(row.passes, row.passes + row.fails)).flatten(),
            voids: told(row.voids),
            stops: told(row.stops),
            respirator_id: row.respirator_id,
            name: row.name,
            size: row.size,
        }
    }
}

/// The screenings with one lot of screening solution. A lot with which everybody tastes within ten is worth a look.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LevelsView {
    lot_id: Uuid,
    #[schema(example = "SB-2231")]
    lot_number: String,
    agent: Agent,
    /// Different people; absent of a group too small to be shown, and with it everything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 240)]
    people: Option<u32>,
    /// Tasted within ten squeezes.
    #[serde(skip_serializing_if = "Option::is_none")]
    level_10: Option<ShareView>,
    #[serde(skip_serializing_if = "Option::is_none")]
    level_20: Option<ShareView>,
    #[serde(skip_serializing_if = "Option::is_none")]
    level_30: Option<ShareView>,
    #[serde(skip_serializing_if = "Option::is_none")]
    not_tasted: Option<ShareView>,
}

impl LevelsView {
    fn of(row: Screened, smallest: u32) -> Result<Self, StoreError> {
        let shown = whole(row.people) >= smallest;
        let all = row.level_10 + row.level_20 + row.level_30 + row.not_tasted;
        let told = |count: i64| shown.then(|| ShareView::of(count, all)).flatten();
        let agent = row.agent.parse();
        Ok(Self {
            people: shown.then(|| whole(row.people)),
            level_10: told(row.level_10),
            level_20: told(row.level_20),
            level_30: told(row.level_30),
            not_tasted: told(row.not_tasted),
            lot_id: row.lot_id,
            lot_number: row.lot_number,
            agent: agent.map_err(|error| StoreError::internal(format!("a stored agent: {error}")))?,
        })
    }
}

/// One half hour of a day.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HalfHourView {
    /// Its beginning.
    from: DateTime<Utc>,
    /// People who checked in.
    #[schema(example = 18)]
    arrivals: u32,
    /// Attempts that ended, however they did.
    #[schema(example = 16)]
    tests: u32,
    /// Those that passed.
    #[schema(example = 13)]
    passes: u32,
}

impl From<HalfHour> for HalfHourView {
    fn from(row: HalfHour) -> Self {
        Self {
            from: row.from_at,
            arrivals: whole(row.arrivals),
            tests: whole(row.tests),
            passes: whole(row.passes),
        }
    }
}

/// What a time of testing showed. Corrected attempts count nowhere.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReportView {
    from: NaiveDate,
    until: NaiveDate,
    /// Groups of fewer people are named, and nothing about them is told.
    #[schema(example = 5)]
    smallest_group: u32,
    /// By name and size.
    passes: Vec<PassesView>,
    /// Passes among passes and fails on the respirators that are shown; those of small groups are left out, or the
    /// difference would tell them.
    #[serde(skip_serializing_if = "Option::is_none")]
    all_passes: Option<ShareView>,
    /// By number of the lot.
    levels: Vec<LevelsView>,
    /// The half hours of the day that was asked for, from the first event to the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    flow: Option<Vec<HalfHourView>>,
}

/// Shares of passes per respirator, levels of screenings per lot of solution, and the flow of one day.
///
/// Shares come with their 95 % score interval. Few results say little: compare intervals and not shares.
#[utoipa::path(tag = "reports", params(ReportQuery), responses(
    (status = 200, body = ReportView),
    (status = 404, description = "No such day here.", body = ProblemBody),
    (status = 422, description = "The days make no period, or the groups would be too small.", body = ProblemBody)
))]
#[get("/api/v1/reports")]
pub(crate) async fn read_report(
    caller: Caller<op::ReadReport>,
    query: Query<ReportQuery>,
) -> Result<Json<ReportView>, Problem> {
    let (site_id, now, query) = (caller.site_id(), caller.now, query.into_inner());
    Ok(Json(caller.read_store(move |conn| read(conn, site_id, &query, now)).await?))
}

fn read(
    conn: &mut PgConnection,
    site_id: Uuid,
    query: &ReportQuery,
    now: DateTime<Utc>,
) -> Result<ReportView, StoreError> {
    let (smallest, zone) = (query.smallest_group()?, site::zone(conn, site_id)?);
    let period = query.period(local_date(now, zone))?;
    let flow = match period.day_id {
        Some(day_id) => {
            day::find(conn, site_id, day_id)?;
            Some(report::flow(conn, day_id)?.into_iter().map(HalfHourView::from).collect())
        }
        None => None,
    };
    let tried = report::passes(conn, site_id, period)?;
    let shown = || tried.iter().filter(|row| whole(row.people) >= smallest);
    let (passes, fails) =
        (shown().map(|row| row.passes).sum::<i64>(), shown().map(|row| row.fails).sum::<i64>());
    let screened = report::levels(conn, site_id, period, zone.name())?;
    Ok(ReportView {
        from: period.from,
        until: period.until,
        smallest_group: smallest,
        all_passes: ShareView::of(passes, passes + fails),
        passes: tried.into_iter().map(|row| PassesView::of(row, smallest)).collect(),
        levels: screened.into_iter().map(|row| LevelsView::of(row, smallest)).collect::<Result<_, _>>()?,
        flow,
    })
}
