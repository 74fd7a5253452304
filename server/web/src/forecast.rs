//! What runs out where and when, what ends before it is used, and what to order.

use std::collections::HashMap;

use actix_web::{post, web::Json};
use chrono::{DateTime, TimeDelta, Utc};
use chrono_tz::Tz;
use sellion_planning::forecast::{
    self as planning, Assumptions, Bottle, CurrentFill, FacepieceStock, Forecast, MeasuredSqueeze, Place,
    PlannedDay, SQUEEZE, StationWork, Work,
};
use sellion_rules::{
    dates::{end_of_day, local_date},
    day::StationPart,
    refusal::{Code, Refusal},
    roles::op,
    supplies::Agent,
};
use sellion_store::{
    PgConnection, StoreError, bottle, day, fill, site, station,
    usage::{self as used, Pace},
    weighing::{self, Weighing},
};
use serde::Deserialize;
use serde_json::{Map, Value, from_value};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    problem::{Problem, ProblemBody},
    usage::whole,
};

/// Bottles of a site that a forecast looks at.
const BOTTLES_MAX: i64 = 5000;
/// What goes out of date is told this far ahead.
const HORIZON_DAYS: i64 = 30;
/// A station's own pace counts once it has worked for half an hour; until then the assumption does.
const MEASURED_AFTER_SECONDS: i64 = 1800;

/// A day that is only planned.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlannedDayBody {
    #[schema(example = "2026-03-17T07:00:00Z")]
    starts_at: DateTime<Utc>,
    /// Working hours.
    #[schema(example = 8.0)]
    hours: f64,
    /// People booked.
    #[schema(example = 300)]
    heads: u32,
    /// Stations that screen and test.
    #[schema(example = 6)]
    stations: u32,
}

/// What the forecast is about: the rest of a day, or a day that is only planned.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewForecast {
    /// The day whose rest is asked for.
    day_id: Option<Uuid>,
    /// People still to come on that day; left out, those who are checked in and not done.
    heads: Option<u32>,
    /// The planned day.
    planned: Option<PlannedDayBody>,
    /// The agent that everybody is screened with first; left out, saccharin.
    main_agent: Option<Agent>,
    /// The numbers behind it. What is left out is the default, and of a squeeze what the site's own nebulizers weighed;
    /// the answer shows each with its source.
    #[serde(default)]
    #[schema(value_type = Object, example = json!({ "fail_share": 0.15, "squeeze_ul": 5.1 }))]
    assumptions: Asked,
}

/// Assumptions as they are asked for, and whether what a squeeze gives is among them.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(try_from = "Map<String, Value>")]
struct Asked {
    values: Assumptions,
    names_squeeze: bool,
}

impl TryFrom<Map<String, Value>> for Asked {
    type Error = serde_json::Error;

    fn try_from(named: Map<String, Value>) -> Result<Self, Self::Error> {
        let names_squeeze = named.contains_key(SQUEEZE);
        Ok(Self { values: from_value(Value::Object(named))?, names_squeeze })
    }
}

/// What a squeeze gives by the newest weighing of each nebulizer in use, where there are any: their mean.
fn measured(conn: &mut PgConnection, site_id: Uuid, zone: Tz) -> Result<Option<MeasuredSqueeze>, StoreError> {
    let weighed = weighing::newest(conn, site_id)?;
    let (Some(first), Some(last)) = (weighed.first(), weighed.last()) else { return Ok(None) };
    let volumes = weighed.iter().map(Weighing::squeeze_ul);
    #[allow(clippy::cast_precision_loss, reason = "far fewer nebulizers than that")]
    let ul = volumes.sum::<f64>() / weighed.len() as f64;
    let on = |weighing: &Weighing| local_date(weighing.happened_at, zone);
    let source = format!(
        "weighed here: the mean of the newest weighings of {} nebulizers, {} to {}",
        weighed.len(),
        on(first),
        on(last)
    );
    Ok(Some(MeasuredSqueeze { ul, source }))
}

/// Tells what runs out where and when, what ends before it is used, and what to order: for the rest of a day, or for one
/// that is only planned.
///
/// Every number that it takes for granted is in the answer with its source, and may be replaced in the request. It is an
/// estimate and no promise.
#[utoipa::path(tag = "forecasts", responses(
    (status = 200, body = Forecast),
    (status = 404, description = "No such day here.", body = ProblemBody),
    (status = 422, description = "An assumption cannot be, or neither or both of the days are named.", body = ProblemBody)
))]
#[post("/api/v1/forecasts")]
pub(crate) async fn read_forecast(
    caller: Caller<op::ReadForecast>,
    body: Json<NewForecast>,
) -> Result<Json<Forecast>, Problem> {
    let (site_id, now, body) = (caller.site_id(), caller.now, body.into_inner());
    let told = caller
        .read_store(move |conn| {
            let zone = site::zone(conn, site_id)?;
            let mut assumptions = body.assumptions.values;
            let measured = if body.assumptions.names_squeeze { None } else { measured(conn, site_id, zone)? };
            if let Some(measured) = &measured {
                assumptions.squeeze_ul = measured.ul;
            }
            let work = body.work(conn, site_id, now, &assumptions)?;
            let bottles = bottles(conn, site_id, now)?;
            let today = local_date(now, zone);
            let facepieces = used::facepieces(conn, site_id, today)?.into_iter().map(|row| FacepieceStock {
                respirator: row.respirator_id,
                name: row.name,
                on_hand: row.on_hand,
                used: whole(row.used),
            });
            let facepieces: Vec<_> = facepieces.collect();
            let horizon = now + TimeDelta::days(HORIZON_DAYS);
            let taken = (&assumptions, measured.as_ref());
            Ok(planning::forecast(&work, &bottles, &facepieces, taken, horizon)?)
        })
        .await?;
    Ok(Json(told))
}

impl NewForecast {
    fn work(
        &self,
        conn: &mut PgConnection,
        site_id: Uuid,
        now: DateTime<Utc>,
        assumptions: &Assumptions,
    ) -> Result<Work, StoreError> {
        let main_agent = self.main_agent.unwrap_or(Agent::Saccharin);
        if !main_agent.is_tasted() {
            let sentence = "A forecast is about the agents that are tasted.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("main_agent").into());
        }
        match (&self.planned, self.day_id) {
            (Some(planned), None) => planned.work(main_agent, assumptions),
            (None, Some(day_id)) => self.rest_of_day(conn, (site_id, day_id), main_agent, now, assumptions),
            _ => {
                let sentence = "Name a day whose rest is meant, or describe a planned one.";
                Err(Refusal::new(Code::InvalidValue, sentence).field("day_id").into())
            }
        }
    }

    fn rest_of_day(
        &self,
        conn: &mut PgConnection,
        (site_id, day_id): (Uuid, Uuid),
        main_agent: Agent,
        now: DateTime<Utc>,
        assumptions: &Assumptions,
    ) -> Result<Work, StoreError> {
        let day = day::find(conn, site_id, day_id)?;
        let waiting = used::still_to_come(conn, day_id)?;
        let stations = stations(conn, site_id, &day, now, assumptions)?;
        let from = now.max(day.opens_at);
        Ok(Work {
            from,
            closing: day.closes_at.max(from),
            heads: self.heads.unwrap_or_else(|| whole(waiting)),
            // Whoever is checked in is there; whoever is only named may not come.
            booked: self.heads.is_some(),
            main_agent,
            stations,
        })
    }
}

impl PlannedDayBody {
    fn work(&self, main_agent: Agent, assumptions: &Assumptions) -> Result<Work, StoreError> {
        let refused = |field, sentence: &str| {
            Err(StoreError::from(Refusal::new(Code::InvalidValue, sentence).field(field)))
        };
        if !(self.hours > 0.0 && self.hours <= 24.0) {
            return refused("hours", "A day has more than 0 and at most 24 working hours.");
        }
        if !(1..=200).contains(&self.stations) {
            return refused("stations", "A day has 1 to 200 stations.");
        }
        // Every station has both agents at hand; the other one is for the few who do not taste the first.
        let each = (1..=self.stations).flat_map(|number| {
            let id = Uuid::from_u128(u128::from(number));
            Agent::TASTES.iter().map(move |agent| (id, format!("Station {number}"), *agent))
        });
        let day = PlannedDay {
            starts_at: moment(self.starts_at, "starts_at")?,
            hours: self.hours,
            heads: self.heads,
            main_agent,
            stations: each.collect(),
        };
        Ok(Work::planned(&day, assumptions))
    }
}

/// The stations of the day that screen or test, with their pace so far and what their nebulizers hold.
fn stations(
    conn: &mut PgConnection,
    site_id: Uuid,
    day: &day::Day,
    now: DateTime<Utc>,
    assumptions: &Assumptions,
) -> Result<Vec<StationWork>, StoreError> {
    let (rules, zone) = (day::rules(conn, day)?, site::zone(conn, site_id)?);
    let mut held: HashMap<Uuid, Vec<CurrentFill>> = HashMap::new();
    for row in used::held(conn, day.id)? {
        let filled = fill::find(conn, site_id, row.fill_id)?;
        let (agent, solution) = (filled.supply.lot.agent()?, filled.supply.lot.solution()?);
        // What may not be used any more gives nothing, and is no reason to stop telling.
        let Ok(usable_until) = filled.usable(&rules, now, zone) else { continue };
        let sprayed = f64::from(whole(row.squeezes)) * assumptions.squeeze_ul;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "cut to what was filled")]
        let left_ul = (f64::from(whole(row.filled_ul)) - sprayed).max(0.0) as u32;
        held.entry(row.station_id).or_default().push(CurrentFill { agent, solution, left_ul, usable_until });
    }
    let pace: HashMap<Uuid, Pace> =
        used::pace(conn, day.id)?.into_iter().map(|pace| (pace.station_id, pace)).collect();
    let mut found = Vec::new();
    for station in station::list(conn, site_id, day.id, (Uuid::nil(), i64::MAX))? {
        let fills = held.remove(&station.id).unwrap_or_default();
        let quick = |part: StationPart, ended: fn(&Pace) -> i64| {
            if !station.can(part) || station.closed_at.is_some() {
                return Some(0.0);
            }
            pace.get(&station.id).and_then(|pace| per_hour(pace, ended(pace), now))
        };
        let screenings_per_hour = quick(StationPart::Screening, |pace| pace.screenings);
        let attempts_per_hour = quick(StationPart::Testing, |pace| pace.attempts);
        for agent in Agent::TASTES {
            found.push(StationWork {
                station: station.id,
                name: station.name.clone(),
                agent: *agent,
                attempts_per_hour,
                screenings_per_hour,
                fills: fills.iter().filter(|fill| fill.agent == *agent).cloned().collect(),
            });
        }
    }
    Ok(found)
}

/// How many runs the station ends in an hour, once it has worked long enough to tell.
fn per_hour(pace: &Pace, ended: i64, now: DateTime<Utc>) -> Option<f64> {
    let worked = (now - pace.since?).num_seconds();
    (worked >= MEASURED_AFTER_SECONDS && ended > 0)
        .then(|| f64::from(whole(ended)) * 3600.0 / f64::from(whole(worked)))
}

/// Every bottle of a taste agent with something in it.
fn bottles(conn: &mut PgConnection, site_id: Uuid, now: DateTime<Utc>) -> Result<Vec<Bottle>, StoreError> {
    let (rules, zone) = site::rules_and_zone(conn, site_id)?;
    let mut found = Vec::new();
    for supply in bottle::list(conn, site_id, (None, None), (Uuid::nil(), BOTTLES_MAX))? {
        let (agent, solution) = (supply.lot.agent()?, supply.lot.solution()?);
        if !agent.is_tasted() || supply.on_hand_ul == 0 {
            continue;
        }
        let facts = supply.facts(&rules, zone)?;
        let last_day = facts.printed_expiry.last_day();
        let opened_last_day = facts.opened_on.zip(facts.opened_life_days);
        let ends = opened_last_day.map_or(last_day, |(opened_on, life)| {
            last_day.min(sellion_rules::dates::days_after(opened_on, life))
        });
        let place = supply.placed.map(|placed| Place {
            id: placed.place.id,
            station: placed.place.station_id.is_some(),
            name: placed.place.name,
        });
        found.push(Bottle {
            bottle: supply.bottle.id,
            label: supply.bottle.label,
            lot: supply.lot.id,
            lot_number: supply.lot.lot_number,
            agent,
            solution,
            on_hand_ul: supply.on_hand_ul,
            usable_until: if facts.stopped { now } else { end_of_day(ends, zone) },
            opened: facts.opened_on.is_some(),
            opened_life_seconds: facts.opened_life_days.map(|days| days.saturating_mul(86_400)),
            stopped: facts.stopped,
            place: place.unwrap_or_else(|| Place {
                id: Uuid::nil(),
                name: "nobody has said where".to_owned(),
                station: false,
            }),
        });
    }
    Ok(found)
}
