//! Nebulizers and hoods: which there are, what was found on them, and what has to be looked at again.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    equipment::{EquipmentKind, EquipmentState, Finding},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    StoreError,
    equipment::{self, Check, NewCheck as NewCheckRow, NewEquipment as NewRow, ReviewedRun, Standing},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    page::{Page, PageQuery},
    parameters::SearchQuery,
    place::PlaceName,
    problem::{Problem, ProblemBody},
    words::{LONG, SHORT, line_or_none, number},
};

/// An hour: a wipe that has to stay wet for longer is a slip of the pen.
const CONTACT_SECONDS_MAX: u32 = 3600;

/// One nebulizer or hood.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EquipmentView {
    id: Uuid,
    kind: EquipmentKind,
    /// What is written on it.
    #[schema(example = "3 test")]
    label: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot_id: Option<Uuid>,
    /// Of a hood, how long its wipe has to stay wet, by the wipe's label.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 120)]
    contact_seconds: Option<i32>,
    /// Whether it may be used now.
    state: EquipmentState,
    /// When it will be ready, where that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    ready_at: Option<DateTime<Utc>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<PlaceName>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<Standing> for EquipmentView {
    type Error = StoreError;

    fn try_from(standing: Standing) -> Result<Self, StoreError> {
        let Standing { equipment, state, ready_at, placed } = standing;
        Ok(Self {
            kind: equipment.kind()?,
            id: equipment.id,
            label: equipment.label,
            lot_id: equipment.lot_id,
            contact_seconds: equipment.contact_seconds,
            state,
            ready_at,
            place: placed.map(PlaceName::from),
            happened_at: equipment.happened_at,
            recorded_at: equipment.recorded_at,
        })
    }
}

/// A nebulizer or hood to be registered.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewEquipment {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    kind: EquipmentKind,
    /// What is written on it; no two of a kind share one, ever.
    #[schema(example = "3 test")]
    label: String,
    /// The lot of nebulizers or hoods it came in.
    lot_id: Option<Uuid>,
    /// Of a hood, how long its wipe has to stay wet, by the wipe's label.
    #[schema(example = 120)]
    contact_seconds: Option<u32>,
    /// Where it was put; left out, the first storeroom of the site.
    place_id: Option<Uuid>,
    #[schema(example = "2026-03-02T09:10:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewEquipment {
    fn row(&self, site_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let is_hood = self.kind == EquipmentKind::Hood;
        if is_hood != self.contact_seconds.is_some()
            || self.contact_seconds.is_some_and(|seconds| seconds > CONTACT_SECONDS_MAX)
        {
            let sentence = format!(
                "A hood, and nothing else, has a contact time of 0 to {CONTACT_SECONDS_MAX} seconds."
            );
            return Err(Refusal::new(Code::InvalidValue, sentence).field("contact_seconds"));
        }
        Ok(NewRow {
            id: self.id,
            site_id,
            kind: self.kind.as_str().to_owned(),
            label: number(&self.label, "label", SHORT)?,
            lot_id: self.lot_id,
            contact_seconds: self.contact_seconds.and_then(|seconds| i32::try_from(seconds).ok()),
            happened_at: happened(self.happened_at, now)?,
        })
    }
}

/// One finding.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EquipmentCheckView {
    id: Uuid,
    equipment_id: Uuid,
    finding: Finding,
    /// Of a mix-up, the nebulizer whose liquid was poured in.
    #[serde(skip_serializing_if = "Option::is_none")]
    other_equipment_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<Check> for EquipmentCheckView {
    type Error = StoreError;

    fn try_from(check: Check) -> Result<Self, StoreError> {
        let Check { id, equipment_id, finding, other_equipment_id, note, happened_at, recorded_at } = check;
        let finding = finding.parse().map_err(|_| StoreError::internal("a stored finding is none"))?;
        Ok(Self { id, equipment_id, finding, other_equipment_id, note, happened_at, recorded_at })
    }
}

/// A finding to be recorded.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewEquipmentCheck {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    finding: Finding,
    /// Of a mix-up, the nebulizer whose liquid was poured in: it is out as well.
    other_equipment_id: Option<Uuid>,
    #[schema(example = "crystals at the tip")]
    note: Option<String>,
    #[schema(example = "2026-03-10T10:12:00Z")]
    happened_at: DateTime<Utc>,
}

/// A screening or an attempt that was made with a nebulizer.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReviewedRunView {
    /// `screening` or `attempt`.
    #[schema(example = "attempt")]
    run: String,
    id: Uuid,
    person_id: Uuid,
    station_id: Uuid,
    /// How it ended; absent while it runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "pass")]
    outcome: Option<String>,
    happened_at: DateTime<Utc>,
}

impl From<ReviewedRun> for ReviewedRunView {
    fn from(run: ReviewedRun) -> Self {
        let ReviewedRun { run, id, person_id, station_id, outcome, happened_at } = run;
        Self { run, id, person_id, station_id, outcome, happened_at }
    }
}

/// What has to be looked at again after a nebulizer was found clogged or mixed up.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EquipmentReview {
    equipment_id: Uuid,
    /// When it was last seen to spray before that, by a check or at the end of an attempt; absent if never.
    #[serde(skip_serializing_if = "Option::is_none")]
    sprayed_at: Option<DateTime<Utc>>,
    /// Every run made with it between then and the finding, in order.
    runs: Vec<ReviewedRunView>,
}

/// Nebulizers and hoods of the site with their states, by id; with `q`, those with that text on their label.
#[utoipa::path(tag = "equipment", params(SearchQuery, PageQuery), responses((status = 200, body = Page<EquipmentView>)))]
#[get("/api/v1/equipment")]
pub(crate) async fn list_equipment(
    caller: Caller<op::ListEquipment>,
    search: Query<SearchQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<EquipmentView>>, Problem> {
    let (site_id, window, now) = (caller.site_id(), page.window()?, caller.now);
    let text = search.text()?;
    let rows = caller
        .read_store(move |conn| {
            let found = equipment::list(conn, site_id, now, text.as_deref(), window.fetch())?;
            found.into_iter().map(EquipmentView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Registers a nebulizer or a hood.
#[utoipa::path(tag = "equipment", responses(
    (status = 201, body = EquipmentView),
    (status = 404, description = "No such lot or place here.", body = ProblemBody),
    (status = 409, description = "Another one of its kind has this label, or the id is another's.", body = ProblemBody),
    (status = 422, description = "The label or the contact time cannot be.", body = ProblemBody)
))]
#[post("/api/v1/equipment")]
pub(crate) async fn create_equipment(
    caller: Caller<op::CreateEquipment>,
    body: Json<NewEquipment>,
) -> Result<HttpResponse, Problem> {
    let (new, place_id) = (body.row(caller.site_id(), caller.now)?, body.place_id);
    let made = caller.write(move |tx| equipment::create(tx, &new, place_id)).await?;
    Ok(HttpResponse::Created().json(EquipmentView::try_from(made)?))
}

/// What was found on a nebulizer or hood, in order.
#[utoipa::path(tag = "equipment", responses(
    (status = 200, body = Vec<EquipmentCheckView>),
    (status = 404, description = "No such nebulizer or hood here.", body = ProblemBody)
))]
#[get("/api/v1/equipment/{equipment_id}/checks")]
pub(crate) async fn list_equipment_checks(
    caller: Caller<op::ListEquipmentChecks>,
    equipment_id: Path<Uuid>,
) -> Result<Json<Vec<EquipmentCheckView>>, Problem> {
    let (site_id, id) = (caller.site_id(), *equipment_id);
    let checks = caller
        .read_store(move |conn| {
            let found = equipment::checks(conn, site_id, id)?;
            found.into_iter().map(EquipmentCheckView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(checks))
}

/// Records what was found on a nebulizer or hood, or done to it.
///
/// Clogged or mixed up, a nebulizer is out at once, and attempts in their doses on it are void: they have to be
/// repeated. Of a mix-up both nebulizers are out until each was rinsed. The review lists what was made with it since it
/// was last seen to spray.
#[utoipa::path(tag = "equipment", responses(
    (status = 201, body = EquipmentView),
    (status = 404, description = "No such nebulizer or hood here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another finding.", body = ProblemBody),
    (status = 422, description = "This is never found on it.", body = ProblemBody)
))]
#[post("/api/v1/equipment/{equipment_id}/checks")]
pub(crate) async fn create_equipment_check(
    caller: Caller<op::CreateEquipmentCheck>,
    equipment_id: Path<Uuid>,
    body: Json<NewEquipmentCheck>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let new = NewCheckRow {
        id: body.id,
        site_id: caller.site_id(),
        equipment_id: *equipment_id,
        finding: body.finding.as_str().to_owned(),
        other_equipment_id: body.other_equipment_id,
        note: line_or_none(body.note.as_deref(), "note", LONG)?,
        happened_at: happened(body.happened_at, caller.now)?,
    };
    let made = caller.write(move |tx| equipment::create_check(tx, &new)).await?;
    Ok(HttpResponse::Created().json(EquipmentView::try_from(made)?))
}

/// What was made with a nebulizer since it was last seen to spray, up to when it was found clogged or mixed up.
#[utoipa::path(tag = "equipment", responses(
    (status = 200, body = EquipmentReview),
    (status = 404, description = "No such nebulizer here.", body = ProblemBody),
    (status = 422, description = "It is no nebulizer.", body = ProblemBody)
))]
#[get("/api/v1/equipment/{equipment_id}/review")]
pub(crate) async fn read_equipment_review(
    caller: Caller<op::ReadEquipmentReview>,
    equipment_id: Path<Uuid>,
) -> Result<Json<EquipmentReview>, Problem> {
    let (site_id, id, now) = (caller.site_id(), *equipment_id, caller.now);
    let review = caller.read_store(move |conn| equipment::review(conn, site_id, id, now)).await?;
    Ok(Json(EquipmentReview {
        equipment_id: review.nebulizer.id,
        sprayed_at: review.sprayed_at,
        runs: review.runs.into_iter().map(ReviewedRunView::from).collect(),
    }))
}
