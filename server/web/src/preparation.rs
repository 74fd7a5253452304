//! Solutions made in-house: by a recipe of the site's rule set, by somebody, at a moment. The result is a lot.

use actix_web::{HttpResponse, post, web::Json};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    dates::local_date,
    refusal::{Code, Refusal},
    roles::op,
    ruleset::{Ingredient, Recipe, RuleSet},
    supplies::{Agent, Solution},
};
use sellion_store::{
    StoreError,
    lot::{self, NewLot as NewRow},
    site,
};
use serde::{Deserialize, Serialize};
use serde_json::to_value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, plausible},
    lot::LotView,
    problem::{Problem, ProblemBody},
    words::{SHORT, line, number},
};

/// How a lot was made in-house.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct Prepared {
    /// Who made it.
    #[schema(example = "Ines Valdrun")]
    made_by: String,
    /// What went in.
    ingredients: Vec<PreparedIngredient>,
    /// Where the recipe comes from.
    source: String,
    #[schema(example = "us-29cfr1910-134")]
    rule_set_name: String,
    #[schema(example = "2019-09-26.2")]
    rule_set_version: String,
}

/// One thing that went into a solution.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub(crate) struct PreparedIngredient {
    /// A decimal number.
    #[schema(example = "0.4")]
    amount: String,
    #[schema(example = "ml")]
    unit: String,
    #[schema(example = "stock solution")]
    of: String,
}

impl From<&Ingredient> for PreparedIngredient {
    fn from(ingredient: &Ingredient) -> Self {
        let Ingredient { amount, unit, of } = ingredient.clone();
        Self { amount, unit, of }
    }
}

/// A solution that was made in-house.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPreparation {
    /// Made by the client: a UUIDv7, the same on a repeat. It becomes the id of the lot.
    id: Uuid,
    agent: Agent,
    solution: Solution,
    /// What is written on it.
    #[schema(example = "OWN-2026-031")]
    lot_number: String,
    /// Who made it.
    #[schema(example = "Ines Valdrun")]
    made_by: String,
    /// The last day of its use. Left out where the recipe sets one; needed where no text does, and never later than the
    /// recipe's.
    #[schema(example = "2026-03-16")]
    last_day: Option<NaiveDate>,
    /// When it was made.
    #[schema(example = "2026-03-10T06:30:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewPreparation {
    fn recipe<'a>(&self, rules: &'a RuleSet) -> Result<&'a Recipe, Refusal> {
        let mut recipes = rules.recipes.iter();
        recipes.find(|recipe| recipe.agent == self.agent && recipe.solution == self.solution).ok_or_else(
            || {
                let sentence = format!(
                    "The site's rule set has no recipe for {} of {}: it cannot be made here.",
                    self.solution.name(),
                    self.agent.name()
                );
                Refusal::new(Code::InvalidValue, sentence).field("solution")
            },
        )
    }

    /// The last day of its use: the recipe's, or an earlier one that was asked for.
    fn last_day(&self, recipe: &Recipe, made_on: NaiveDate) -> Result<NaiveDate, Refusal> {
        let refused = |sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field("last_day"));
        match (recipe.last_day(made_on), self.last_day) {
            (_, Some(asked)) if asked < made_on => {
                refused("It cannot end before it was made: look at the last day.".to_owned())
            }
            (Some(limit), Some(asked)) if asked > limit => {
                refused(format!("By {} it may be used until {limit} and no longer.", recipe.source))
            }
            (_, Some(asked)) => plausible(asked, "last_day"),
            (Some(limit), None) => Ok(limit),
            (None, None) => {
                refused("No text sets its life: give the last day by your own policy.".to_owned())
            }
        }
    }

    fn row(self, site_id: Uuid, rules: &RuleSet, made_on: NaiveDate) -> Result<NewRow, StoreError> {
        let recipe = self.recipe(rules)?;
        let last_day = self.last_day(recipe, made_on)?;
        let prepared = Prepared {
            made_by: line(&self.made_by, "made_by", SHORT)?,
            ingredients: recipe.ingredients.iter().map(Into::into).collect(),
            source: recipe.source.clone(),
            rule_set_name: rules.name.clone(),
            rule_set_version: rules.version.clone(),
        };
        Ok(NewRow {
            id: self.id,
            site_id,
            agent: Some(self.agent.as_str().to_owned()),
            solution: Some(self.solution.as_str().to_owned()),
            supply: None,
            respirator_id: None,
            lot_number: number(&self.lot_number, "lot_number", SHORT)?,
            box_lot_number: None,
            maker: None,
            gtin: None,
            box_count: None,
            label_read: None,
            printed_expiry: Some(last_day.to_string()),
            expires_on: Some(last_day),
            opened_life_days: None,
            prepared: Some(to_value(&prepared).map_err(|error| StoreError::internal(error.to_string()))?),
            happened_at: self.happened_at,
        })
    }
}

/// Records a solution made in-house, as a lot like any other: bottles, fills, stops and look-backs follow from it.
///
/// The site's rule set has the recipe and how long the solution may be used.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 409, description = "This lot number is known already, or the id belongs to another lot.", body = ProblemBody),
    (status = 422, description = "There is no such recipe, or the last day cannot be.", body = ProblemBody)
))]
#[post("/api/v1/preparations")]
pub(crate) async fn create_preparation(
    caller: Caller<op::CreatePreparation>,
    body: Json<NewPreparation>,
) -> Result<HttpResponse, Problem> {
    let site_id = caller.site_id();
    let mut new = body.into_inner();
    new.happened_at = happened(new.happened_at, caller.now)?;
    let lot = caller
        .write(move |tx| {
            let (rules, zone) = site::rules_and_zone(tx.conn, site_id)?;
            let made_on = local_date(new.happened_at, zone);
            lot::create(tx, &new.clone().row(site_id, &rules, made_on)?)
        })
        .await?;
    Ok(HttpResponse::Created().json(LotView::try_from(lot)?))
}
