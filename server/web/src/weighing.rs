//! Weighings of nebulizers: what one squeeze gives.

use std::ops::RangeInclusive;

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::weighing::{self, Weighing};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
};

/// A kilogram: more is no nebulizer.
const MASS_MG_MAX: i64 = 1_000_000;

/// What one squeeze of a nebulizer can give, in microlitres: the range that a forecast takes as well.
const SQUEEZE_UL: RangeInclusive<f64> = 0.5..=50.0;

/// Fewer steps of the scale than this tell nothing: each reading is right to half a step (JCGM 100:2008, 4.3.7), so two
/// of them can differ by one step where nothing is gone.
const SCALE_STEPS_MIN: i64 = 4;

/// One weighing.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SqueezeWeighingView {
    id: Uuid,
    equipment_id: Uuid,
    squeezes: i32,
    before_mg: i64,
    after_mg: i64,
    scale_step_mg: i64,
    density_ug_per_ul: i32,
    /// What one squeeze gave, in nanolitres.
    #[schema(example = 5100)]
    squeeze_nl: i64,
    happened_at: DateTime<Utc>,
}

impl From<Weighing> for SqueezeWeighingView {
    fn from(row: Weighing) -> Self {
        #[allow(clippy::cast_possible_truncation, reason = "a squeeze of some microlitres")]
        let squeeze_nl = (row.squeeze_ul() * 1000.0).floor() as i64;
        Self {
            id: row.id,
            equipment_id: row.equipment_id,
            squeezes: row.squeezes,
            before_mg: row.before_mg,
            after_mg: row.after_mg,
            scale_step_mg: row.scale_step_mg,
            density_ug_per_ul: row.density_ug_per_ul,
            squeeze_nl,
            happened_at: row.happened_at,
        }
    }
}

/// A weighing to be kept: fill the nebulizer, weigh it, squeeze so many times, weigh it again.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewSqueezeWeighing {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Squeezes between the two readings: 1 to 1000; the more, the surer.
    #[schema(example = 100)]
    squeezes: i32,
    /// In milligrams.
    #[schema(example = 24310)]
    before_mg: i64,
    /// In milligrams.
    #[schema(example = 23800)]
    after_mg: i64,
    /// What one step of the scale's last digit weighs, in milligrams.
    #[schema(example = 10)]
    scale_step_mg: i64,
    /// The density of what was sprayed, in micrograms in a microlitre; left out, that of water.
    #[serde(default = "water")]
    #[schema(example = 1000)]
    density_ug_per_ul: i32,
    #[schema(example = "2026-03-09T15:00:00Z")]
    happened_at: DateTime<Utc>,
}

const fn water() -> i32 {
    1000
}

impl NewSqueezeWeighing {
    fn row(self, site_id: Uuid, equipment_id: Uuid, now: DateTime<Utc>) -> Result<Weighing, Refusal> {
        let refused = |field, sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
        if !(1..=1000).contains(&self.squeezes) {
            return refused("squeezes", "Squeezes are 1 to 1000.".to_owned());
        }
        if !(1..=MASS_MG_MAX).contains(&self.before_mg) {
            return refused("before_mg", format!("The weight before is 1 to {MASS_MG_MAX} milligrams."));
        }
        if !(0..self.before_mg).contains(&self.after_mg) {
            let sentence = "What was squeezed out makes it lighter: look at the two readings.";
            return refused("after_mg", sentence.to_owned());
        }
        if !(1..=10_000).contains(&self.scale_step_mg) {
            return refused("scale_step_mg", "A step of the scale is 1 to 10000 milligrams.".to_owned());
        }
        if !(500..=2000).contains(&self.density_ug_per_ul) {
            let sentence = "The density is 500 to 2000 micrograms in a microlitre; water has 1000.";
            return refused("density_ug_per_ul", sentence.to_owned());
        }
        let weighed = Weighing {
            id: self.id,
            site_id,
            equipment_id,
            squeezes: self.squeezes,
            before_mg: self.before_mg,
            after_mg: self.after_mg,
            scale_step_mg: self.scale_step_mg,
            density_ug_per_ul: self.density_ug_per_ul,
            happened_at: happened(self.happened_at, now)?,
        };
        let gone = self.before_mg - self.after_mg;
        if gone < SCALE_STEPS_MIN * self.scale_step_mg {
            let sentence = format!(
                "The {gone} milligrams that are gone are less than {SCALE_STEPS_MIN} steps of this scale: squeeze more \
                 often between the two readings."
            );
            return refused("squeezes", sentence);
        }
        let squeeze = weighed.squeeze_ul();
        if !SQUEEZE_UL.contains(&squeeze) {
            let (least, most) = SQUEEZE_UL.into_inner();
            let sentence = format!(
                "A squeeze of {squeeze:.2} microlitres cannot be, {least} to {most} can: look at the readings and their \
                 unit, and count the squeezes again."
            );
            return refused("after_mg", sentence);
        }
        Ok(weighed)
    }
}

/// The weighings of a nebulizer, in order.
#[utoipa::path(tag = "equipment", responses(
    (status = 200, body = Vec<SqueezeWeighingView>),
    (status = 404, description = "No such nebulizer here.", body = ProblemBody)
))]
#[get("/api/v1/equipment/{equipment_id}/weighings")]
pub(crate) async fn list_squeeze_weighings(
    caller: Caller<op::ListSqueezeWeighings>,
    equipment_id: Path<Uuid>,
) -> Result<Json<Vec<SqueezeWeighingView>>, Problem> {
    let (site_id, id) = (caller.site_id(), *equipment_id);
    let rows = caller.read_store(move |conn| weighing::list(conn, site_id, id)).await?;
    Ok(Json(rows.into_iter().map(SqueezeWeighingView::from).collect()))
}

/// Keeps a weighing of a nebulizer before and after so many squeezes.
#[utoipa::path(tag = "equipment", responses(
    (status = 201, body = SqueezeWeighingView),
    (status = 404, description = "No such nebulizer here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another weighing.", body = ProblemBody),
    (status = 422, description = "A reading cannot be.", body = ProblemBody)
))]
#[post("/api/v1/equipment/{equipment_id}/weighings")]
pub(crate) async fn create_squeeze_weighing(
    caller: Caller<op::CreateSqueezeWeighing>,
    equipment_id: Path<Uuid>,
    body: Json<NewSqueezeWeighing>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), *equipment_id, caller.now)?;
    let kept = caller.write(move |tx| weighing::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(SqueezeWeighingView::from(kept)))
}
