//! Files of readings: the site's mappings, and taking a file into an attempt.

use actix_web::{
    HttpResponse, get, post,
    web::{Bytes, Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    attempt::{AttemptEvent, FitSummary, OfFile},
    fit_factor::Quantity,
    reading_file::{FileReadings, Mapping, Problem as FileProblem, read},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    StoreError,
    reading_file::{self, NewReadingMapping as NewRow, ReadingMapping},
    recording::NewRecording,
};
use serde::{Deserialize, Serialize};
use serde_json::to_value;
use sha2::{Digest, Sha256};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    attempt::AttemptView,
    auth::Caller,
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    roster::CsvType,
    words::{SHORT, line},
};

/// How a site reads the files of one source.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReadingMappingView {
    id: Uuid,
    /// The site's name for it; of several with one name the newest counts.
    #[schema(example = "Counter 2, one line a test")]
    name: String,
    mapping: Mapping,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl TryFrom<ReadingMapping> for ReadingMappingView {
    type Error = StoreError;

    fn try_from(row: ReadingMapping) -> Result<Self, StoreError> {
        let mapping = row.read_mapping()?;
        let ReadingMapping { id, name, happened_at, recorded_at, .. } = row;
        Ok(Self { id, name, mapping, happened_at, recorded_at })
    }
}

/// A mapping to be remembered.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewReadingMapping {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Counter 2, one line a test")]
    name: String,
    mapping: Mapping,
    #[schema(example = "2026-03-10T07:00:00Z")]
    happened_at: DateTime<Utc>,
}

/// What is said of a file beside its bytes.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ReadingFileQuery {
    /// Made by the client: a UUIDv7, the same on a repeat. The file is kept as a recording under it.
    id: Uuid,
    /// Which cell means what.
    mapping_id: Uuid,
    /// Which test of the file, where it holds several: what its column says.
    test: Option<String>,
    /// When the measuring began.
    #[param(example = "2026-03-10T08:30:00Z")]
    began_at: DateTime<Utc>,
    /// The greatest peak penetration of the test in percent, where the method looks at peaks.
    #[param(value_type = Option<String>)]
    peak_percent: Option<Quantity>,
    /// Whether values that are hardly possible were looked at a second time.
    #[serde(default)]
    looked_again: bool,
}

impl ReadingFileQuery {
    fn said(&self, now: DateTime<Utc>) -> Result<OfFile, Refusal> {
        let began_at = happened(self.began_at, now).map_err(|refusal| refusal.field("began_at"))?;
        Ok(OfFile { began_at, peak_percent: self.peak_percent, looked_again: self.looked_again })
    }
}

/// What a file would do to an attempt.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReadingFilePreview {
    /// The events that would be stored.
    events: Vec<AttemptEvent>,
    /// The fit factors that would follow.
    fit: Option<FitSummary>,
}

/// The site's mappings, by id.
#[utoipa::path(tag = "reading files", params(PageQuery), responses((status = 200, body = Page<ReadingMappingView>)))]
#[get("/api/v1/reading_mappings")]
pub(crate) async fn list_reading_mappings(
    caller: Caller<op::ListReadingMappings>,
    page: Query<PageQuery>,
) -> Result<Json<Page<ReadingMappingView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let found = reading_file::list_mappings(conn, site_id, window.fetch())?;
            found.into_iter().map(ReadingMappingView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Remembers which cell of a source's files means what.
#[utoipa::path(tag = "reading files", responses(
    (status = 201, body = ReadingMappingView),
    (status = 409, description = "The id belongs to another mapping.", body = ProblemBody),
    (status = 422, description = "The mapping cannot be meant.", body = ProblemBody)
))]
#[post("/api/v1/reading_mappings")]
pub(crate) async fn create_reading_mapping(
    caller: Caller<op::CreateReadingMapping>,
    body: Json<NewReadingMapping>,
) -> Result<HttpResponse, Problem> {
    let NewReadingMapping { id, name, mapping, happened_at } = body.into_inner();
    mapping.check()?;
    let new = NewRow {
        id,
        site_id: caller.site_id(),
        name: line(&name, "name", SHORT)?,
        mapping: to_value(&mapping).map_err(|error| Problem::internal(error.to_string()))?,
        happened_at: happened(happened_at, caller.now)?,
    };
    let row = caller.write(move |tx| reading_file::create_mapping(tx, &new)).await?;
    Ok(HttpResponse::Created().json(ReadingMappingView::try_from(row)?))
}

/// What a file of readings would do to an attempt whose measuring has not begun. Nothing is stored.
#[utoipa::path(tag = "reading files", params(ReadingFileQuery),
    request_body(content = String, content_type = "text/csv", example = "exercise,fit factor\n1,210\n"),
    responses(
        (status = 200, body = ReadingFilePreview),
        (status = 404, description = "No such attempt or mapping here.", body = ProblemBody),
        (status = 422, description = "The file cannot be read so, or does not fit the attempt.", body = ProblemBody)
    )
)]
#[post("/api/v1/attempts/{attempt_id}/reading_files/previews")]
pub(crate) async fn preview_reading_file(
    caller: Caller<op::PreviewReadingFile>,
    attempt_id: Path<Uuid>,
    _csv: CsvType,
    query: Query<ReadingFileQuery>,
    body: Bytes,
) -> Result<Json<ReadingFilePreview>, Problem> {
    let (site_id, attempt_id, now) = (caller.site_id(), *attempt_id, caller.now);
    let query = query.into_inner();
    let said = query.said(caller.now)?;
    let preview = caller
        .read_store(move |conn| {
            let mapping = reading_file::find_mapping(conn, site_id, query.mapping_id)?.read_mapping()?;
            let readings = readings(&body, &mapping, query.test.as_deref())?;
            let place = (site_id, attempt_id);
            let (events, state) = reading_file::preview(conn, place, &readings, said, now)?;
            Ok(ReadingFilePreview { events, fit: state.fit() })
        })
        .await?;
    Ok(Json(preview))
}

/// Takes a file of readings into an attempt whose measuring has not begun, and keeps the file as its recording.
///
/// Every exercise counts at its full length from `began_at` on. With anything wrong in the file nothing is stored, and
/// everything that is wrong is told.
#[utoipa::path(tag = "reading files", params(ReadingFileQuery),
    request_body(content = String, content_type = "text/csv", example = "exercise,fit factor\n1,210\n"),
    responses(
        (status = 201, body = AttemptView),
        (status = 404, description = "No such attempt or mapping here.", body = ProblemBody),
        (status = 409, description = "The id belongs to another recording.", body = ProblemBody),
        (status = 422, description = "The file cannot be read so, or does not fit the attempt.", body = ProblemBody)
    )
)]
#[post("/api/v1/attempts/{attempt_id}/reading_files")]
pub(crate) async fn create_reading_file(
    caller: Caller<op::CreateReadingFile>,
    attempt_id: Path<Uuid>,
    _csv: CsvType,
    query: Query<ReadingFileQuery>,
    body: Bytes,
) -> Result<HttpResponse, Problem> {
    let (site_id, query) = (caller.site_id(), query.into_inner());
    let said = query.said(caller.now)?;
    let kept = NewRecording {
        id: query.id,
        site_id,
        attempt_id: *attempt_id,
        name: "readings.csv".to_owned(),
        media_type: "text/csv".to_owned(),
        sha256: Sha256::digest(&body).to_vec(),
        bytes: body.to_vec(),
        happened_at: said.began_at,
    };
    let run = caller
        .write(move |tx| {
            let mapping = reading_file::find_mapping(tx.conn, site_id, query.mapping_id)?.read_mapping()?;
            let readings = readings(&kept.bytes, &mapping, query.test.as_deref())?;
            reading_file::take(tx, &kept, &readings, said)
        })
        .await?;
    Ok(HttpResponse::Created().json(AttemptView::try_from(run)?))
}

fn readings(file: &[u8], mapping: &Mapping, test: Option<&str>) -> Result<FileReadings, Refusal> {
    read(file, mapping, test).map_err(|problems| refusal(&problems))
}

/// Everything that is wrong with a file, in one refusal.
fn refusal(problems: &[FileProblem]) -> Refusal {
    let first = problems.first().map(|problem| {
        let line = problem.line.map(|line| format!(" on line {line}")).unwrap_or_default();
        format!("; the first{line}: {}", problem.reason)
    });
    let sentence = format!("Nothing was stored. Problems: {}{}", problems.len(), first.unwrap_or_default());
    let refusal = Refusal::new(Code::ReadingFileInvalid, sentence).field("file");
    let count = u32::try_from(problems.len()).unwrap_or(u32::MAX);
    refusal
        .fact("problem_count", count)
        .fact("problems", problems.iter().take(200).cloned().collect::<Vec<_>>())
}
