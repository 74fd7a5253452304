//! Recordings of measured tests, and the record that the rule asks for of every test.

use actix_web::{
    HttpMessage, HttpRequest, HttpResponse, get,
    http::header,
    post,
    web::{Bytes, Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    attempt::{Outcome, VerdictReason},
    method::Method,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::recording::{self, NewRecording, Record, Recording};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::happened,
    problem::{Problem, ProblemBody},
    words::{SHORT, hex, line},
};

/// The largest recording; the database holds the same limit.
const BYTES_MAX: usize = 5 * 1024 * 1024;

/// A recording without its bytes.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RecordingView {
    id: Uuid,
    #[schema(example = "strip-chart.pdf")]
    name: String,
    #[schema(example = "application/pdf")]
    media_type: String,
    /// SHA-256 of the bytes, in hexadecimal.
    sha256: String,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl From<Recording> for RecordingView {
    fn from(row: Recording) -> Self {
        let Recording { id, name, media_type, sha256, happened_at, recorded_at } = row;
        Self { id, name, media_type, sha256: hex(&sha256), happened_at, recorded_at }
    }
}

/// What has to be recorded of every test: 29 CFR 1910.134(m)(2)(i)(A)-(E).
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RecordView {
    attempt_id: Uuid,
    /// (A) Who was tested.
    person: RecordPerson,
    /// (B) The type of test.
    type_of_test: Method,
    /// (C) What was tested.
    respirator: RecordRespirator,
    /// (D) The local day of the test.
    date: NaiveDate,
    /// (E) The result.
    result: RecordResult,
    /// When a correction took it out of every later judgement.
    #[serde(skip_serializing_if = "Option::is_none")]
    corrected_at: Option<DateTime<Utc>>,
}

/// Who was tested.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RecordPerson {
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    #[schema(example = "0047192")]
    staff_number: String,
}

/// Make, model, style and size.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RecordRespirator {
    #[schema(example = "Tarn & Vale")]
    make: String,
    #[schema(example = "Linnet 2")]
    model: String,
    #[schema(example = "folded")]
    style: String,
    #[schema(example = "small")]
    size: String,
}

/// Pass or fail; of a measured test the fit factor and its recordings as well.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RecordResult {
    outcome: Outcome,
    reason: VerdictReason,
    /// The overall fit factor, where it was measured to the end.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "162.4")]
    fit_factor: Option<String>,
    /// The least that passed, where it was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pass_level: Option<i32>,
    /// The strip charts or other recordings of a measured test.
    recordings: Vec<RecordingView>,
    /// Whether a recording is still to be added: a measured test is to have one beside its readings.
    recording_missing: bool,
}

impl From<Record> for RecordView {
    fn from(record: Record) -> Self {
        let (given_name, family_name, staff_number) = record.person;
        let (make, model, style, size) = record.respirator;
        Self {
            attempt_id: record.attempt_id,
            person: RecordPerson { given_name, family_name, staff_number },
            type_of_test: record.method,
            respirator: RecordRespirator { make, model, style, size },
            date: record.tested_on,
            result: RecordResult {
                outcome: record.outcome,
                reason: record.reason,
                fit_factor: record.fit_factor,
                pass_level: record.pass_level,
                recording_missing: record.method.is_quantitative() && record.recordings.is_empty(),
                recordings: record.recordings.into_iter().map(Into::into).collect(),
            },
            corrected_at: record.corrected_at,
        }
    }
}

/// What is said of a recording beside its bytes.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct RecordingQuery {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// The file's name.
    #[param(example = "strip-chart.pdf")]
    name: String,
    /// When it was made.
    #[param(example = "2026-03-10T08:24:00Z")]
    happened_at: DateTime<Utc>,
}

/// The five things that have to be recorded of a test that has ended.
#[utoipa::path(tag = "attempts", responses(
    (status = 200, body = RecordView),
    (status = 404, description = "No such attempt here.", body = ProblemBody),
    (status = 422, description = "The attempt is still open.", body = ProblemBody)
))]
#[get("/api/v1/attempts/{attempt_id}/record")]
pub(crate) async fn read_attempt_record(
    caller: Caller<op::ReadAttemptRecord>,
    attempt_id: Path<Uuid>,
) -> Result<Json<RecordView>, Problem> {
    let (site_id, id) = (caller.site_id(), *attempt_id);
    let record = caller.read_store(move |conn| recording::record(conn, site_id, id)).await?;
    Ok(Json(record.into()))
}

/// Keeps the strip chart or other recording of a measured attempt, byte for byte; 5 MiB at most.
///
/// The body is the file as it is, with its own content type.
#[utoipa::path(tag = "attempts", params(RecordingQuery),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses(
        (status = 201, body = RecordingView),
        (status = 404, description = "No such attempt here.", body = ProblemBody),
        (status = 409, description = "The id belongs to another recording.", body = ProblemBody),
        (status = 413, description = "The file is larger than 5 MiB.", body = ProblemBody),
        (status = 422, description = "The file is empty, or nothing was measured in this attempt.", body = ProblemBody)
    )
)]
#[post("/api/v1/attempts/{attempt_id}/recordings")]
pub(crate) async fn create_attempt_recording(
    caller: Caller<op::CreateAttemptRecording>,
    attempt_id: Path<Uuid>,
    query: Query<RecordingQuery>,
    request: HttpRequest,
    body: Bytes,
) -> Result<HttpResponse, Problem> {
    let RecordingQuery { id, name, happened_at } = query.into_inner();
    let new = NewRecording {
        id,
        site_id: caller.site_id(),
        attempt_id: *attempt_id,
        name: line(&name, "name", SHORT)?,
        media_type: media_type(&request)?,
        sha256: Sha256::digest(&body).to_vec(),
        bytes: bytes(&body)?,
        happened_at: happened(happened_at, caller.now)?,
    };
    let row = caller.write(move |tx| recording::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(RecordingView::from(row)))
}

fn media_type(request: &HttpRequest) -> Result<String, Refusal> {
    match request.mime_type() {
        Ok(Some(kind)) => Ok(kind.essence_str().to_owned()),
        _ => Err(Refusal::new(Code::WrongContentType, "Say in Content-Type what kind of file this is.")),
    }
}

fn bytes(body: &Bytes) -> Result<Vec<u8>, Refusal> {
    if body.len() > BYTES_MAX {
        return Err(Refusal::new(Code::BodyTooLarge, "A recording has at most 5 MiB: send a smaller file."));
    }
    if body.is_empty() {
        return Err(Refusal::new(Code::InvalidValue, "The file is empty: choose it again.").field("body"));
    }
    Ok(body.to_vec())
}

/// The bytes of a recording, as they were sent.
#[utoipa::path(tag = "attempts", responses(
    (status = 200, description = "The file, with the content type it was sent with.", body = Vec<u8>, content_type = "application/octet-stream"),
    (status = 404, description = "No such recording here.", body = ProblemBody)
))]
#[get("/api/v1/attempts/{attempt_id}/recordings/{recording_id}")]
pub(crate) async fn read_attempt_recording(
    caller: Caller<op::ReadAttemptRecording>,
    path: Path<(Uuid, Uuid)>,
) -> Result<HttpResponse, Problem> {
    let (attempt_id, id) = path.into_inner();
    let site_id = caller.site_id();
    let (row, bytes) = caller.read_store(move |conn| recording::read(conn, site_id, attempt_id, id)).await?;
    // Kept and handed out, never shown: a browser must not run what somebody uploaded.
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, row.media_type))
        .insert_header((header::CONTENT_DISPOSITION, "attachment"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(bytes))
}
