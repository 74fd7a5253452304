//! Size hints: what to try first, and never a result.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    fit_factor::Quantity,
    refusal::{Code, Refusal},
    roles::op,
    size_hint::{CAUTION, Cell, FaceLengths, Hint, LengthUnit, Panel, face_lengths, hints},
};
use sellion_store::{
    StoreError,
    size_hint::{self, FacePanel, NewFacePanel as NewRow},
};
use serde::{Deserialize, Serialize};
use serde_json::to_value;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
    words::{LONG, SHORT, line},
};

/// A panel of face lengths as the site loaded it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FacePanelView {
    id: Uuid,
    #[serde(flatten)]
    panel: Panel,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<FacePanel> for FacePanelView {
    type Error = StoreError;

    fn try_from(row: FacePanel) -> Result<Self, StoreError> {
        let panel = row.read_panel()?;
        Ok(Self { id: row.id, panel, happened_at: row.happened_at, recorded_at: row.recorded_at })
    }
}

/// A panel to be loaded. The one loaded last is the site's.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewFacePanel {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "our panel of 2026")]
    name: String,
    /// Where its bounds come from.
    #[schema(example = "measured at this site")]
    source: String,
    cells: Vec<Cell>,
    #[schema(example = "2026-03-02T09:00:00Z")]
    happened_at: DateTime<Utc>,
}

/// Two lengths of a face, or none.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SizeHintQuery {
    /// From the lowest point of the chin to the root of the nose (menton to sellion).
    #[param(value_type = Option<String>, example = "118.5")]
    face_length: Option<Quantity>,
    /// Across the cheekbones (bizygomatic).
    #[param(value_type = Option<String>, example = "139")]
    face_width: Option<Quantity>,
    /// The unit of both; millimetres unless told.
    #[param(inline)]
    unit: Option<LengthUnit>,
}

impl SizeHintQuery {
    fn face(&self) -> Result<Option<FaceLengths>, Refusal> {
        let unit = self.unit.unwrap_or(LengthUnit::Millimetre);
        match (self.face_length, self.face_width) {
            (Some(length), Some(width)) => face_lengths(length, width, unit).map(Some),
            (None, None) => Ok(None),
            (length, _) => {
                let missing = if length.is_none() { "face_length" } else { "face_width" };
                Err(Refusal::new(Code::InvalidValue, "Give both lengths, or neither.").field(missing))
            }
        }
    }
}

/// What to try first.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SizeHintsView {
    /// What has to be said with it.
    caution: &'static str,
    /// The lengths given, in millimetres. They are not kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    face: Option<FaceLengths>,
    /// The cell of the site's panel that the face belongs to, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "4")]
    cell: Option<String>,
    /// Every respirator the site hands out, the one to try first in front.
    hints: Vec<Hint>,
}

/// Loads a panel of face lengths. It only names a cell in hints; nothing is decided by it.
#[utoipa::path(tag = "size hints", responses(
    (status = 201, body = FacePanelView),
    (status = 409, description = "The id belongs to another panel.", body = ProblemBody),
    (status = 422, description = "A cell is inverted, unnamed or lies over another.", body = ProblemBody)
))]
#[post("/api/v1/face_panels")]
pub(crate) async fn create_face_panel(
    caller: Caller<op::CreateFacePanel>,
    body: Json<NewFacePanel>,
) -> Result<HttpResponse, Problem> {
    let NewFacePanel { id, name, source, cells, happened_at } = body.into_inner();
    let panel = Panel { name: line(&name, "name", SHORT)?, source: line(&source, "source", LONG)?, cells };
    panel.check()?;
    let new = NewRow {
        id,
        site_id: caller.site_id(),
        panel: to_value(&panel).map_err(|error| Problem::internal(error.to_string()))?,
        happened_at: happened(happened_at, caller.now)?,
    };
    let row = caller.write(move |tx| size_hint::create_panel(tx, &new)).await?;
    Ok(HttpResponse::Created().json(FacePanelView::try_from(row)?))
}

/// What to try first with a person: own passes, then what passes most often here. A hint, and never a result.
#[utoipa::path(tag = "size hints", params(SizeHintQuery), responses(
    (status = 200, body = SizeHintsView),
    (status = 404, description = "No such person here.", body = ProblemBody),
    (status = 422, description = "A length cannot be meant.", body = ProblemBody)
))]
#[get("/api/v1/people/{person_id}/size_hints")]
pub(crate) async fn read_size_hints(
    caller: Caller<op::ReadSizeHints>,
    person_id: Path<Uuid>,
    query: Query<SizeHintQuery>,
) -> Result<Json<SizeHintsView>, Problem> {
    let (site_id, person_id, face) = (caller.site_id(), *person_id, query.face()?);
    let view = caller
        .read_store(move |conn| {
            let panel = size_hint::newest_panel(conn, site_id)?;
            let panel = panel.map(|row| row.read_panel()).transpose()?;
            let cell =
                panel.zip(face).and_then(|(panel, face)| panel.cell_of(&face).map(|cell| cell.name.clone()));
            let hints = hints(&size_hint::seen(conn, site_id, person_id)?);
            Ok(SizeHintsView { caution: CAUTION, face, cell, hints })
        })
        .await?;
    Ok(Json(view))
}
