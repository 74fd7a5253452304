//! Roster files: what one would change, and taking it whole or not at all.

mod columns;
mod lines;
mod parse;

use std::{
    collections::BTreeMap,
    future::{Ready, ready},
};

use actix_web::{
    FromRequest, HttpMessage, HttpRequest, HttpResponse,
    dev::Payload,
    get, post,
    web::{Bytes, Json, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
    roster::LineProblem,
};
use sellion_store::roster::{self, NewRosterImport, RosterImport};
use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    words::hex,
};
use columns::ColumnsQuery;
use parse::Parsed;

/// What taking a roster file would change.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RosterPreview {
    /// Which header was taken for what.
    #[schema(example = json!({ "staff_number": "Personalnr", "given_name": "Vorname", "family_name": "Nachname" }))]
    columns: BTreeMap<&'static str, String>,
    /// What separates the cells: comma, semicolon or tab.
    #[schema(example = ";")]
    delimiter: String,
    /// Lines after the header that say anything.
    #[schema(example = 600)]
    row_count: u32,
    /// People who would be new.
    #[schema(example = 12)]
    added_count: i32,
    /// People whose data would change.
    #[schema(example = 30)]
    changed_count: i32,
    /// People who would stay as they are.
    #[schema(example = 558)]
    unchanged_count: i32,
    /// Staff who are stored, have not left and are not in the file. They stay: the file may have been cut short.
    #[schema(example = 3)]
    missing_count: i32,
    /// How many problems stand in the way; with any, the file is not taken.
    #[schema(example = 0)]
    problem_count: u32,
    /// The first 200 problems.
    problems: Vec<LineProblem>,
    /// Some names with letters that a wrong encoding would break, to be looked at.
    #[schema(example = json!(["Oksana Гнатюк"]))]
    names_to_check: Vec<String>,
}

/// A roster file that was taken.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RosterImportView {
    id: Uuid,
    /// SHA-256 of the file, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    file_sha256: String,
    /// Which header was taken for what.
    #[schema(value_type = Object)]
    columns: serde_json::Value,
    /// People in the file.
    row_count: i32,
    /// People who were new.
    added_count: i32,
    /// People whose data differed.
    changed_count: i32,
    /// People who stayed as they were.
    unchanged_count: i32,
    /// Staff who were not in the file, and stayed.
    missing_count: i32,
    recorded_at: DateTime<Utc>,
    /// The user who sent it.
    recorded_by: Uuid,
}

impl From<RosterImport> for RosterImportView {
    fn from(row: RosterImport) -> Self {
        let RosterImport { id, headers: columns, row_count, added_count, changed_count, .. } = row;
        let RosterImport { unchanged_count, missing_count, recorded_at, recorded_by, .. } = row;
        let file_sha256 = hex(&row.file_sha256);
        Self {
            id,
            file_sha256,
            columns,
            row_count,
            added_count,
            changed_count,
            unchanged_count,
            missing_count,
            recorded_at,
            recorded_by,
        }
    }
}

/// Under which id a file is taken.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ImportQuery {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
}

/// Says that the body is `text/csv` (RFC 4180 s.3), in UTF-8 where it names a character set.
pub(crate) struct CsvType;

impl FromRequest for CsvType {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let refused = |sentence: &str| Err(Refusal::new(Code::WrongContentType, sentence).into());
        ready(if !request.content_type().eq_ignore_ascii_case("text/csv") {
            refused("Send the file as it is, with the content type text/csv.")
        } else if !is_utf_8(request) {
            refused("Export the file as CSV in UTF-8 and send it as text/csv; charset=utf-8.")
        } else {
            Ok(Self)
        })
    }
}

/// Whether the content type names no character set, or one whose every text is UTF-8.
fn is_utf_8(request: &HttpRequest) -> bool {
    let Ok(Some(kind)) = request.mime_type() else { return false };
    let utf_8 =
        |charset: &str| ["utf-8", "utf8", "us-ascii"].iter().any(|known| charset.eq_ignore_ascii_case(known));
    kind.get_param("charset").is_none_or(|charset| utf_8(charset.as_str()))
}

/// Reading a long file takes processor time: not on a thread that serves others.
async fn parsed(file: Bytes, query: ColumnsQuery, today: NaiveDate) -> Result<Parsed, Problem> {
    let parsed = actix_web::web::block(move || parse::parse(&file, &query, today)).await;
    Ok(parsed.map_err(|error| Problem::internal(error.to_string()))??)
}

/// What a roster file would change, with everything that is wrong with it. Nothing is stored.
#[utoipa::path(
    tag = "roster imports",
    params(ColumnsQuery),
    request_body(content = String, content_type = "text/csv", example = "staff_number,given_name,family_name\n0047192,Ines,Valdrun\n"),
    responses((status = 200, body = RosterPreview), (status = 413, body = ProblemBody), (status = 415, body = ProblemBody), (status = 422, body = ProblemBody))
)]
#[post("/api/v1/roster_imports/previews")]
pub(crate) async fn preview_roster_import(
    caller: Caller<op::PreviewRosterImport>,
    _csv: CsvType,
    query: Query<ColumnsQuery>,
    body: Bytes,
) -> Result<Json<RosterPreview>, Problem> {
    let site_id = caller.site_id();
    let read = parsed(body, query.into_inner(), caller.now.date_naive()).await?;
    let people = read.roster;
    let counts = caller.read_store(move |conn| roster::plan(conn, site_id, &people)).await?;
    Ok(Json(RosterPreview {
        columns: read.columns,
        delimiter: read.delimiter.to_string(),
        row_count: read.row_count,
        added_count: counts.added_count,
        changed_count: counts.changed_count,
        unchanged_count: counts.unchanged_count,
        missing_count: counts.missing_count,
        problem_count: read.problem_count,
        problems: read.problems,
        names_to_check: read.names_to_check,
    }))
}

/// Takes a roster file whole. With any problem in it, nothing is stored and the first 200 problems are told.
///
/// People who are not in the file stay as they are. The same file again changes nothing.
#[utoipa::path(
    tag = "roster imports",
    params(ImportQuery, ColumnsQuery),
    request_body(content = String, content_type = "text/csv", example = "staff_number,given_name,family_name\n0047192,Ines,Valdrun\n"),
    responses((status = 201, body = RosterImportView), (status = 409, body = ProblemBody), (status = 413, body = ProblemBody), (status = 415, body = ProblemBody), (status = 422, body = ProblemBody))
)]
#[post("/api/v1/roster_imports")]
pub(crate) async fn create_roster_import(
    caller: Caller<op::CreateRosterImport>,
    _csv: CsvType,
    id: Query<ImportQuery>,
    query: Query<ColumnsQuery>,
    body: Bytes,
) -> Result<HttpResponse, Problem> {
    let read = parsed(body.clone(), query.into_inner(), caller.now.date_naive()).await?;
    if let Some(refusal) = refusal(&read) {
        return Err(refusal.into());
    }
    let new = NewRosterImport {
        id: id.id,
        site_id: caller.site_id(),
        file_sha256: Sha256::digest(&body).to_vec(),
        file: body.to_vec(),
        headers: json!(read.columns),
    };
    let row = caller.write(move |tx| roster::create(tx, &new, &read.roster)).await?;
    Ok(HttpResponse::Created().json(RosterImportView::from(row)))
}

fn refusal(read: &Parsed) -> Option<Refusal> {
    let first = read.problems.first()?;
    let sentence = format!(
        "Nothing was stored. Problems: {}; the first is on line {}: {}",
        read.problem_count, first.line, first.message
    );
    Some(
        Refusal::new(Code::RosterLineInvalid, sentence)
            .fact("line", first.line)
            .fact("problem_count", read.problem_count)
            .fact("problems", read.problems.clone()),
    )
}

/// The roster files taken so far.
#[utoipa::path(tag = "roster imports", params(PageQuery), responses((status = 200, body = Page<RosterImportView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/roster_imports")]
pub(crate) async fn list_roster_imports(
    caller: Caller<op::ListRosterImports>,
    page: Query<PageQuery>,
) -> Result<Json<Page<RosterImportView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| roster::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |row| row.id, RosterImportView::from)))
}
