//! Respirators: what people are tested on.

use std::convert::identity;

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    respirator::{AirSupply, Facepiece, assigned_protection_factor},
    roles::op,
};
use sellion_store::{
    StoreError, TextList,
    respirator::{self, NewRespirator as NewRow, Respirator, RespiratorChange},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line, line_or_empty, line_or_none, present},
};

/// The largest factor that 29 CFR 1910.134(d)(3)(i)(A) Table 1 assigns to anything.
const PROTECTION_FACTOR_MAX: u32 = 10_000;

/// The most names that a respirator has besides its make and model.
const OTHER_NAMES_MAX: usize = 8;

/// One respirator: make, model, style and size.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RespiratorView {
    id: Uuid,
    /// Its short number at the site, from 1.
    #[schema(example = 3)]
    number: i32,
    #[schema(example = "Tarn & Vale")]
    make: String,
    #[schema(example = "Linnet 2")]
    model: String,
    /// Empty where the model comes in one style.
    #[schema(example = "folded")]
    style: String,
    #[schema(example = "small")]
    size: String,
    facepiece: Facepiece,
    #[schema(example = "N95")]
    filter_class: String,
    #[schema(example = "TV-0042")]
    approval_number: Option<String>,
    air_supply: AirSupply,
    /// How many times less of a substance is expected inside than outside.
    #[schema(example = 10)]
    protection_factor: i32,
    /// What people call it besides: it is found by these, and never told apart by them.
    #[schema(example = json!(["the folded one"]))]
    other_names: Vec<String>,
    /// When the site stopped using it.
    retired_at: Option<DateTime<Utc>>,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

impl TryFrom<Respirator> for RespiratorView {
    type Error = StoreError;

    fn try_from(row: Respirator) -> Result<Self, StoreError> {
        let (facepiece, air_supply) = (row.facepiece()?, row.air_supply()?);
        let Respirator { id, number, make, model, style, size, filter_class, approval_number, .. } = row;
        let Respirator { protection_factor, other_names, retired_at, version, created_at, .. } = row;
        Ok(Self {
            id,
            number,
            make,
            model,
            style,
            size,
            facepiece,
            filter_class,
            approval_number,
            air_supply,
            protection_factor,
            other_names: other_names.unwrap_or_default().0,
            retired_at,
            version,
            created_at,
        })
    }
}

/// A respirator to be added.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewRespirator {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Tarn & Vale")]
    make: String,
    #[schema(example = "Linnet 2")]
    model: String,
    /// Left out where the model comes in one style.
    #[serde(default)]
    #[schema(example = "folded")]
    style: String,
    #[schema(example = "small")]
    size: String,
    facepiece: Facepiece,
    #[schema(example = "N95")]
    filter_class: String,
    #[schema(example = "TV-0042")]
    approval_number: Option<String>,
    /// Left out, the wearer's own breath draws the air through the filters.
    #[serde(default = "air_purifying")]
    air_supply: AirSupply,
    /// Left out, it is the one 29 CFR 1910.134(d)(3)(i)(A) Table 1 assigns to this facepiece and air supply: for an
    /// air-purifying half mask 10, for a full facepiece 50.
    #[schema(example = 10, minimum = 1, maximum = 10_000)]
    protection_factor: Option<u32>,
    /// What people call it besides, to find it by.
    #[serde(default)]
    #[schema(max_items = 8, example = json!(["the folded one"]))]
    other_names: Vec<String>,
}

/// Each once; none at all is nothing.
fn names(given: &[String]) -> Result<Option<TextList>, Refusal> {
    let mut names: Vec<String> = Vec::new();
    for name in given {
        let name = line(name, "other_names", SHORT)?;
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.len() > OTHER_NAMES_MAX {
        let sentence = format!("At most {OTHER_NAMES_MAX} other names are kept: give those that are in use.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("other_names"));
    }
    Ok(Some(TextList(names)).filter(|names| !names.0.is_empty()))
}

fn air_purifying() -> AirSupply {
    AirSupply::AirPurifying
}

impl NewRespirator {
    fn row(self, site_id: Uuid) -> Result<NewRow, Refusal> {
        let factor =
            match (self.protection_factor, assigned_protection_factor(self.facepiece, self.air_supply)) {
                (Some(factor), _) | (None, Some(factor)) => factor,
                (None, None) => {
                    let sentence =
                        "No protection factor is assigned to this facepiece with this air supply: give one.";
                    return Err(Refusal::new(Code::InvalidValue, sentence).field("protection_factor"));
                }
            };
        // Table 1 leaves a choice for helmets and hoods only (its note 4).
        let assigned = assigned_protection_factor(self.facepiece, self.air_supply);
        let more =
            assigned.is_some_and(|assigned| factor > assigned) && self.facepiece != Facepiece::HelmetOrHood;
        if more {
            let sentence = format!(
                "At most {} is assigned to this facepiece with this air supply (29 CFR 1910.134(d)(3)(i)(A) Table 1).",
                assigned.unwrap_or_default()
            );
            return Err(Refusal::new(Code::InvalidValue, sentence).field("protection_factor"));
        }
        let own_air = Some(self.air_supply).filter(|supply| *supply != AirSupply::AirPurifying);
        let protection_factor = i32::try_from(factor)
            .ok()
            .filter(|_| (1..=PROTECTION_FACTOR_MAX).contains(&factor))
            .ok_or_else(|| {
                let sentence = format!("A protection factor is 1 to {PROTECTION_FACTOR_MAX}.");
                Refusal::new(Code::InvalidValue, sentence).field("protection_factor")
            })?;
        Ok(NewRow {
            id: self.id,
            site_id,
            make: line(&self.make, "make", SHORT)?,
            model: line(&self.model, "model", SHORT)?,
            style: line_or_empty(&self.style, "style", SHORT)?,
            size: line(&self.size, "size", SHORT)?,
            facepiece: self.facepiece.as_str().to_owned(),
            filter_class: line(&self.filter_class, "filter_class", SHORT)?,
            air_supply: own_air.map(|supply| supply.as_str().to_owned()),
            approval_number: line_or_none(self.approval_number.as_deref(), "approval_number", SHORT)?,
            protection_factor,
            other_names: names(&self.other_names)?,
        })
    }
}

/// What may change about a respirator; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RespiratorPatch {
    #[schema(example = "N95")]
    filter_class: Option<String>,
    /// Null takes it away.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>, example = "TV-0042")]
    approval_number: Option<Option<String>>,
    /// All of them anew; an empty list takes them away.
    #[schema(max_items = 8, example = json!(["the folded one"]))]
    other_names: Option<Vec<String>>,
    /// Whether the site has stopped using it.
    #[schema(example = false)]
    retired: Option<bool>,
}

impl RespiratorPatch {
    fn change(self) -> Result<RespiratorChange, Refusal> {
        let approval = |number: Option<String>| line_or_none(number.as_deref(), "approval_number", SHORT);
        Ok(RespiratorChange {
            filter_class: self.filter_class.map(|class| line(&class, "filter_class", SHORT)).transpose()?,
            approval_number: self.approval_number.map(approval).transpose()?,
            other_names: self.other_names.as_deref().map(names).transpose()?,
            retired: self.retired,
        })
    }
}

/// The respirators of the site, retired ones too.
#[utoipa::path(tag = "respirators", params(PageQuery), responses((status = 200, body = Page<RespiratorView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/respirators")]
pub(crate) async fn list_respirators(
    caller: Caller<op::ListRespirators>,
    page: Query<PageQuery>,
) -> Result<Json<Page<RespiratorView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| respirator::list(conn, site_id, window.fetch())).await?;
    let views: Vec<_> = rows.into_iter().map(RespiratorView::try_from).collect::<Result<_, _>>()?;
    Ok(Json(Page::of(views, window, |view| view.id, identity)))
}

/// Adds a respirator; it gets the site's next number.
#[utoipa::path(tag = "respirators", responses((status = 201, body = RespiratorView), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[post("/api/v1/respirators")]
pub(crate) async fn create_respirator(
    caller: Caller<op::CreateRespirator>,
    body: Json<NewRespirator>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id())?;
    let row = caller.write(move |tx| respirator::create(tx, &new)).await?;
    Ok(with_etag(HttpResponse::Created(), row.version).json(RespiratorView::try_from(row)?))
}

/// One respirator.
#[utoipa::path(tag = "respirators", responses((status = 200, body = RespiratorView), (status = 404, body = ProblemBody)))]
#[get("/api/v1/respirators/{respirator_id}")]
pub(crate) async fn read_respirator(
    caller: Caller<op::ReadRespirator>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (site_id, id) = (caller.site_id(), id.into_inner());
    let row = caller.read_store(move |conn| respirator::find(conn, site_id, id)).await?;
    Ok(with_etag(HttpResponse::Ok(), row.version).json(RespiratorView::try_from(row)?))
}

/// Changes what may change about a respirator.
#[utoipa::path(tag = "respirators", params(IfMatch), responses((status = 200, body = RespiratorView), (status = 404, body = ProblemBody), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[patch("/api/v1/respirators/{respirator_id}")]
pub(crate) async fn update_respirator(
    caller: Caller<op::UpdateRespirator>,
    id: Path<Uuid>,
    version: IfMatch,
    body: Json<RespiratorPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, change) = (id.into_inner(), body.into_inner().change()?);
    let row = caller.write(move |tx| respirator::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), row.version).json(RespiratorView::try_from(row)?))
}
