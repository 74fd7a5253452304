//! Scans: a gate reads a badge and gets one of four words.

mod comparison;
mod figures;
mod known;
mod reading;

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_badge::Read;
use sellion_rules::{
    gate::{Answer, ScanReason},
    refusal::{Code, Refusal},
    roles::op,
    twin::CLOCK_AHEAD_MAX_MS,
};
use sellion_store::{
    StoreError,
    scan::{self, Answered, Given, Scan},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, moment},
    gate::own_gate,
    page::{Page, PageQuery},
    problem::Problem,
};

pub(crate) use comparison::{__path_list_scan_comparisons, list_scan_comparisons};
pub(crate) use figures::*;
pub(crate) use known::KnownCodes;
pub(crate) use reading::check;

/// What a gate read. Send either `code` or `serial`.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewScan {
    /// Made by the gate, so that sending it again gets the stored answer.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000aa")]
    id: Uuid,
    /// The text of the scanned code, unchanged.
    #[schema(example = "SL1:YN8UPC5D52AB9DS:1A1ETB7PSALEDJ0 NAY7A3 CNA7R46")]
    code: Option<String>,
    /// The serial printed beside the code, typed by hand.
    #[schema(example = "7KQ2M-XW9RD")]
    serial: Option<String>,
    /// When it was read.
    happened_at: DateTime<Utc>,
    /// How far the gate's clock is ahead of the server's, in milliseconds, where the gate knows it: below zero when it
    /// is behind. Beyond ten minutes it counts as not known.
    #[schema(example = 350)]
    clock_ahead_ms: Option<i32>,
    /// What the gate answered by itself, out of the server's reach. Left out where the gate asks.
    given: Option<GivenAnswer>,
}

/// The answer that a gate gave alone, from the pack it held.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct GivenAnswer {
    /// The word that was shown.
    answer: Answer,
    /// When the gate's knowledge was last known to be current; none where it had none.
    known_at: Option<DateTime<Utc>>,
    /// What the gate's own clock showed, right or wrong.
    clock_showed: DateTime<Utc>,
}

impl GivenAnswer {
    /// In the whole microseconds of the database.
    fn read(&self) -> Result<Given, Refusal> {
        Ok(Given {
            answer: self.answer,
            known_at: self.known_at.map(|at| moment(at, "given.known_at")).transpose()?,
            clock_showed: moment(self.clock_showed, "given.clock_showed")?,
        })
    }
}

/// The answer at the gate. Why it was given stays with those entitled to know.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScanAnswer {
    id: Uuid,
    answer: Answer,
    /// What to do, in plain words.
    #[schema(example = "Match name and face, check the respirator in use here, let the person in.")]
    instruction: String,
    /// The name to match with the face, when the badge is one of ours.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Ines Valdrun")]
    name: Option<String>,
    /// The respirator the person may go in with.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Orlevane 31 fold medium")]
    respirator: Option<String>,
    /// Whether the name is to be checked first, as the instruction says: the same badge was read at another gate sooner
    /// than a person walks. That says nothing about anybody: a clock, a lent badge and a copied one look alike.
    check_name: bool,
    /// How old the knowledge is that the answer rests on: the server's has no age.
    #[schema(example = 0)]
    knowledge_age_seconds: u32,
}

impl From<Answered> for ScanAnswer {
    fn from(answered: Answered) -> Self {
        let Answered { id, answer, instruction, name, respirator, check_name } = answered;
        Self { id, answer, instruction, name, respirator, check_name, knowledge_age_seconds: 0 }
    }
}

/// A scan with its reason.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ScanView {
    id: Uuid,
    answer: Answer,
    reason: ScanReason,
    /// The badge, when it was one of ours.
    badge_id: Option<Uuid>,
    /// The respirator the answer rests on.
    respirator_id: Option<Uuid>,
    /// The policy that was in force.
    gate_policy_id: Option<Uuid>,
    /// Whether a serial was typed.
    typed: bool,
    happened_at: DateTime<Utc>,
    /// When the same badge was read here a moment before: this reading counts in no figure.
    #[serde(skip_serializing_if = "Option::is_none")]
    repeats_at: Option<DateTime<Utc>>,
    /// The gate where the same badge was read sooner than a person walks.
    #[serde(skip_serializing_if = "Option::is_none")]
    twin_gate_id: Option<Uuid>,
    recorded_at: DateTime<Utc>,
    /// The device or user that scanned.
    recorded_by: Uuid,
}

impl TryFrom<Scan> for ScanView {
    type Error = StoreError;

    fn try_from(scan: Scan) -> Result<Self, StoreError> {
        let unknown = |_| StoreError::internal(format!("scan {} holds an unknown word", scan.id));
        Ok(Self {
            id: scan.id,
            answer: scan.answer.parse().map_err(unknown)?,
            reason: scan.reason.parse().map_err(unknown)?,
            badge_id: scan.badge_id,
            respirator_id: scan.respirator_id,
            gate_policy_id: scan.gate_policy_id,
            typed: scan.typed,
            happened_at: scan.happened_at,
            repeats_at: scan.repeats_at,
            twin_gate_id: scan.twin_gate_id,
            recorded_at: scan.recorded_at,
            recorded_by: scan.recorded_by,
        })
    }
}

/// Answers a scan, and stores it before it answers.
///
/// A gate that answered alone delivers its scans later, each with the answer that was given: that one is stored, once,
/// whatever the server would have said. A gate's device scans at its own gate; any other is not there for it. The answer is as of now: a fail, an
/// ended permission or an ended badge that was stored a moment ago counts. The policy and the dates are those in
/// force at `happened_at`.
#[utoipa::path(tag = "scans", params(("gate_id" = Uuid, Path)), responses(
    (status = 201, body = ScanAnswer), (status = 404, body = crate::problem::ProblemBody),
    (status = 409, body = crate::problem::ProblemBody), (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/gates/{gate_id}/scans")]
pub(crate) async fn create_scan(
    caller: Caller<op::CreateScan>,
    gate_id: Path<Uuid>,
    body: Json<NewScan>,
) -> Result<HttpResponse, Problem> {
    let gate_id = own_gate(&caller, *gate_id)?;
    let body = body.into_inner();
    let happened_at = happened(body.happened_at, caller.now)?;
    let read = read(body.code, body.serial)?;
    let state = caller.state();
    let reading = reading::check(state, caller.site_id(), &read, happened_at).await?;
    let scan = scan::NewScan {
        id: body.id,
        actor: caller.actor(),
        gate_id,
        reading,
        code_digest: reading::digest(&read).to_vec(),
        typed: read.is_typed(),
        happened_at,
        clock_ahead_ms: body.clock_ahead_ms.filter(|ahead| ahead.saturating_abs() <= CLOCK_AHEAD_MAX_MS),
        recorded_at: caller.now,
        given: body.given.as_ref().map(GivenAnswer::read).transpose()?,
    };
    let answered = state.scans.answer(scan).await?;
    Ok(HttpResponse::Created().json(ScanAnswer::from(answered)))
}

fn read(code: Option<String>, serial: Option<String>) -> Result<Read, Refusal> {
    match (code, serial) {
        (Some(code), None) => Ok(Read::code(&code)),
        (None, Some(serial)) => Ok(Read::typed(&serial)),
        _ => {
            let sentence = "Send the text of the code, or the serial that was typed: one of the two.";
            Err(Refusal::new(Code::InvalidValue, sentence).field("code"))
        }
    }
}

/// The scans at a gate, with their reasons.
#[utoipa::path(tag = "scans", params(("gate_id" = Uuid, Path), PageQuery), responses(
    (status = 200, body = Page<ScanView>), (status = 404, body = crate::problem::ProblemBody)
))]
#[get("/api/v1/gates/{gate_id}/scans")]
pub(crate) async fn list_scans(
    caller: Caller<op::ListScans>,
    gate_id: Path<Uuid>,
    page: Query<PageQuery>,
) -> Result<Json<Page<ScanView>>, Problem> {
    let (site_id, gate_id, window) = (caller.site_id(), *gate_id, page.window()?);
    let rows = caller.read_store(move |conn| scan::list(conn, site_id, gate_id, window.fetch())).await?;
    let views = rows.into_iter().map(ScanView::try_from).collect::<Result<Vec<_>, _>>()?;
    Ok(Json(Page::of(views, window, |view| view.id, |view| view)))
}
