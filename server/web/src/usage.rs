//! What was sprayed against what is gone: leaks, skipped doses, clogs and mistaken bottles.

use std::collections::BTreeMap;

use actix_web::{
    get,
    web::{Json, Query},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_planning::{
    usage::{self, BottleCount, FillUse, NebulizerUse, UsageReport, UsageSetup},
    weighing::{SqueezeVolume, Weighing, squeeze_volume},
};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    PgConnection, StoreError, bottle,
    usage::{self as used, UsedFill},
    weighing,
};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::moment,
    problem::{Problem, ProblemBody},
};

/// A week, where nobody says from when on.
const DAYS: i64 = 7;
/// The longest time that is compared at once.
const DAYS_MAX: i64 = 92;
/// How well a count of a bottle is known: a cylinder read to its mark. Common practice, no source.
const COUNT_UNCERTAINTY_UL: u32 = 500;

/// Which time.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct UsageQuery {
    /// Fills made from this moment on; left out, in the last seven days.
    from: Option<DateTime<Utc>>,
    /// Fills made before this moment; left out, until now.
    until: Option<DateTime<Utc>>,
}

/// Compares what every nebulizer sprayed by its squeezes with what is gone from its fills, and bottles with each other.
///
/// What a squeeze gives comes from the nebulizer's weighings, or is assumed and said to be. A running sum tells what
/// lasts from chance, with its false alarms stated: more gone than squeezed points to a leak or a spill, less to a clog
/// or skipped doses, and two bottles that differ by the same amount to one taken for the other. These are hints to look,
/// not judgements.
#[utoipa::path(tag = "usage", params(UsageQuery), responses(
    (status = 200, body = UsageReport),
    (status = 422, description = "The time cannot be.", body = ProblemBody)
))]
#[get("/api/v1/usage")]
pub(crate) async fn read_usage(
    caller: Caller<op::ReadUsage>,
    query: Query<UsageQuery>,
) -> Result<Json<UsageReport>, Problem> {
    let (site_id, span) = (caller.site_id(), query.span(caller.now)?);
    let report = caller
        .read_store(move |conn| {
            let nebulizers = nebulizers(conn, site_id, span)?;
            let counts = counts(conn, site_id, span)?;
            Ok(usage::usage(&UsageSetup::default(), &nebulizers, &counts)?)
        })
        .await?;
    Ok(Json(report))
}

impl UsageQuery {
    fn span(&self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, DateTime<Utc>), Refusal> {
        let until = self.until.map_or(Ok(now), |until| moment(until, "until"))?;
        let from = self.from.map_or(Ok(until - TimeDelta::days(DAYS)), |from| moment(from, "from"))?;
        if from >= until || until - from > TimeDelta::days(DAYS_MAX) {
            let sentence = format!("The time begins before it ends, and lasts {DAYS_MAX} days at most.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("from"));
        }
        Ok((from, until))
    }
}

type Span = (DateTime<Utc>, DateTime<Utc>);

fn nebulizers(conn: &mut PgConnection, site_id: Uuid, span: Span) -> Result<Vec<NebulizerUse>, StoreError> {
    let mut of: BTreeMap<(String, Uuid), Vec<FillUse>> = BTreeMap::new();
    for row in used::fills(conn, site_id, span)? {
        let UsedFill { equipment_id, label, fill_id, filled_at, filled_ul, squeezes, rest_ul } = row;
        of.entry((label, equipment_id)).or_default().push(FillUse {
            fill: fill_id,
            filled_at,
            squeezes: whole(squeezes),
            filled_ul: whole(filled_ul),
            rest_ul: rest_ul.map(whole),
            spilled_ul: 0,
        });
    }
    of.into_iter()
        .map(|((label, nebulizer), fills)| {
            let squeeze = squeeze(conn, site_id, nebulizer)?;
            Ok(NebulizerUse { nebulizer, label, squeeze, fills })
        })
        .collect()
}

/// What a squeeze of the nebulizer gives. Weighings with the scale and the liquid of the newest one count together.
pub(crate) fn squeeze(
    conn: &mut PgConnection,
    site_id: Uuid,
    nebulizer: Uuid,
) -> Result<SqueezeVolume, StoreError> {
    let kept = weighing::list(conn, site_id, nebulizer)?;
    let Some(newest) = kept.last() else { return Ok(SqueezeVolume::default()) };
    let alike = kept.iter().filter(|row| {
        row.scale_step_mg == newest.scale_step_mg && row.density_ug_per_ul == newest.density_ug_per_ul
    });
    let weighings: Vec<Weighing> = alike
        .map(|row| Weighing {
            before_mg: f64::from(whole(row.before_mg)),
            after_mg: f64::from(whole(row.after_mg)),
            squeezes: u32::try_from(row.squeezes).unwrap_or_default(),
        })
        .collect();
    let density = f64::from(newest.density_ug_per_ul) / 1000.0;
    Ok(squeeze_volume(&weighings, f64::from(whole(newest.scale_step_mg)), density)?)
}

fn counts(conn: &mut PgConnection, site_id: Uuid, span: Span) -> Result<Vec<BottleCount>, StoreError> {
    let mut found = Vec::new();
    for row in used::counts(conn, site_id, span)? {
        let supply = bottle::find(conn, site_id, row.bottle_id)?;
        found.push(BottleCount {
            bottle: row.bottle_id,
            agent: supply.lot.agent()?,
            solution: supply.lot.solution()?,
            label: supply.bottle.label,
            lot: supply.lot.id,
            book_ul: row.counted_ul.saturating_sub(row.difference_ul),
            counted_ul: whole(row.counted_ul),
            uncertainty_ul: COUNT_UNCERTAINTY_UL,
        });
    }
    Ok(found)
}

/// A count or volume that the database keeps above zero and far below this.
pub(crate) fn whole(number: i64) -> u32 {
    u32::try_from(number.max(0)).unwrap_or(u32::MAX)
}
