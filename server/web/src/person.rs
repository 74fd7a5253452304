//! People: who is tested.

use std::convert::identity;

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_rules::{person::PersonKind, refusal::Refusal, roles::op};
use sellion_store::{
    StoreError,
    person::{self, NewPerson as NewRow, Person, PersonChange, Search},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::plausible,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line_or_empty, line_or_none, number, present},
};

/// More words than this in a search only cost time.
const SEARCH_WORDS_MAX: usize = 6;

/// One person, with what tells them apart from others of the same name.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PersonView {
    id: Uuid,
    /// Text, zeros kept.
    #[schema(example = "0047192")]
    staff_number: String,
    #[schema(example = "Ines")]
    given_name: String,
    #[schema(example = "Valdrun")]
    family_name: String,
    /// Month and day of birth, to ask for at the desk; the year stays on the server.
    #[schema(example = "04-17")]
    birth_month_day: Option<String>,
    /// Where they work; may be empty.
    #[schema(example = "Heron ward")]
    unit: String,
    kind: PersonKind,
    /// Who answers for a temporary person.
    #[schema(example = "Tomas Brask, stores")]
    sponsor: Option<String>,
    /// Their last day here; they are cleared for nothing after it.
    left_on: Option<NaiveDate>,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

impl TryFrom<Person> for PersonView {
    type Error = StoreError;

    fn try_from(row: Person) -> Result<Self, StoreError> {
        let kind = row.kind.parse().map_err(|error| StoreError::internal(format!("{error}")))?;
        let Person { id, staff_number, given_name, family_name, birth_date, unit, .. } = row;
        let Person { sponsor, left_on, version, created_at, .. } = row;
        let birth_month_day = birth_date.map(|date| date.format("%m-%d").to_string());
        Ok(Self {
            id,
            staff_number,
            given_name,
            family_name,
            birth_month_day,
            unit,
            kind,
            sponsor,
            left_on,
            version,
            created_at,
        })
    }
}

/// A person who is on no roster.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPerson {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "AG-0113")]
    staff_number: String,
    /// May be left out where a person has one name only.
    #[serde(default)]
    #[schema(example = "Ines")]
    given_name: String,
    #[serde(default)]
    #[schema(example = "Valdrun")]
    family_name: String,
    birth_date: Option<NaiveDate>,
    #[serde(default)]
    #[schema(example = "Heron ward")]
    unit: String,
    kind: PersonKind,
    /// Who answers for a temporary person; needed for them.
    #[schema(example = "Tomas Brask, stores")]
    sponsor: Option<String>,
}

impl NewPerson {
    fn row(self, site_id: Uuid) -> Result<NewRow, Refusal> {
        Ok(NewRow {
            id: self.id,
            site_id,
            staff_number: number(&self.staff_number, "staff_number", SHORT)?,
            given_name: line_or_empty(&self.given_name, "given_name", SHORT)?,
            family_name: line_or_empty(&self.family_name, "family_name", SHORT)?,
            birth_date: self.birth_date.map(|date| plausible(date, "birth_date")).transpose()?,
            unit: line_or_empty(&self.unit, "unit", SHORT)?,
            kind: self.kind.as_str().to_owned(),
            sponsor: line_or_none(self.sponsor.as_deref(), "sponsor", SHORT)?,
        })
    }
}

/// What may change about a person; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PersonPatch {
    #[schema(example = "0047192")]
    staff_number: Option<String>,
    #[schema(example = "Ines")]
    given_name: Option<String>,
    #[schema(example = "Valdrun-Roe")]
    family_name: Option<String>,
    /// Null takes it away.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    birth_date: Option<Option<NaiveDate>>,
    #[schema(example = "Heron ward")]
    unit: Option<String>,
    /// Null takes it away.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<String>, example = "Tomas Brask, stores")]
    sponsor: Option<Option<String>>,
    /// Their last day; null when they are back. Their clearances follow at once.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<NaiveDate>)]
    left_on: Option<Option<NaiveDate>>,
}

impl PersonPatch {
    fn change(self) -> Result<PersonChange, Refusal> {
        let name =
            |text: Option<String>, field| text.map(|text| line_or_empty(&text, field, SHORT)).transpose();
        let date = |date: Option<Option<NaiveDate>>, field| {
            date.map(|date| date.map(|date| plausible(date, field)).transpose()).transpose()
        };
        let sponsor = |text: Option<String>| line_or_none(text.as_deref(), "sponsor", SHORT);
        Ok(PersonChange {
            staff_number: self.staff_number.map(|text| number(&text, "staff_number", SHORT)).transpose()?,
            given_name: name(self.given_name, "given_name")?,
            family_name: name(self.family_name, "family_name")?,
            birth_date: date(self.birth_date, "birth_date")?,
            unit: name(self.unit, "unit")?,
            sponsor: self.sponsor.map(sponsor).transpose()?,
            left_on: date(self.left_on, "left_on")?,
        })
    }
}

/// Whom to look for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct PeopleQuery {
    /// Words: each is the beginning of the staff number, or a part of a name in any case.
    #[param(example = "valdr")]
    q: Option<String>,
    /// The whole staff number, as a scanner reads it.
    #[param(example = "0047192")]
    staff_number: Option<String>,
}

impl PeopleQuery {
    fn search(&self) -> Result<Search, Refusal> {
        let words = line_or_empty(self.q.as_deref().unwrap_or_default(), "q", SHORT)?;
        let number = |text: &str| line_or_empty(text, "staff_number", SHORT);
        Ok(Search {
            words: words.split_whitespace().take(SEARCH_WORDS_MAX).map(str::to_owned).collect(),
            staff_number: self.staff_number.as_deref().map(number).transpose()?,
        })
    }
}

/// People of the site, all of them or those looked for.
#[utoipa::path(tag = "people", params(PeopleQuery, PageQuery), responses((status = 200, body = Page<PersonView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/people")]
pub(crate) async fn list_people(
    caller: Caller<op::ListPeople>,
    page: Query<PageQuery>,
    query: Query<PeopleQuery>,
) -> Result<Json<Page<PersonView>>, Problem> {
    let (site_id, window, search) = (caller.site_id(), page.window()?, query.search()?);
    let rows = caller.read_store(move |conn| person::list(conn, site_id, &search, window.fetch())).await?;
    let views: Vec<_> = rows.into_iter().map(PersonView::try_from).collect::<Result<_, _>>()?;
    Ok(Json(Page::of(views, window, |view| view.id, identity)))
}

/// Adds a person who is on no roster, such as somebody from an agency.
#[utoipa::path(tag = "people", responses((status = 201, body = PersonView), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[post("/api/v1/people")]
pub(crate) async fn create_person(
    caller: Caller<op::CreatePerson>,
    body: Json<NewPerson>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id())?;
    let row = caller.write(move |tx| person::create(tx, &new)).await?;
    Ok(with_etag(HttpResponse::Created(), row.version).json(PersonView::try_from(row)?))
}

/// One person.
#[utoipa::path(tag = "people", responses((status = 200, body = PersonView), (status = 404, body = ProblemBody)))]
#[get("/api/v1/people/{person_id}")]
pub(crate) async fn read_person(
    caller: Caller<op::ReadPerson>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (site_id, id) = (caller.site_id(), id.into_inner());
    let row = caller.read_store(move |conn| person::find(conn, site_id, id)).await?;
    Ok(with_etag(HttpResponse::Ok(), row.version).json(PersonView::try_from(row)?))
}

/// Changes a person's data.
#[utoipa::path(tag = "people", params(IfMatch), responses((status = 200, body = PersonView), (status = 404, body = ProblemBody), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[patch("/api/v1/people/{person_id}")]
pub(crate) async fn update_person(
    caller: Caller<op::UpdatePerson>,
    id: Path<Uuid>,
    version: IfMatch,
    body: Json<PersonPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, change) = (id.into_inner(), body.into_inner().change()?);
    let row = caller.write(move |tx| person::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), row.version).json(PersonView::try_from(row)?))
}
