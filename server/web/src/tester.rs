//! Testers: whom a look-back or a stop can name.

use actix_web::{
    get,
    web::{Json, Query},
};
use sellion_rules::roles::op;
use sellion_store::tester::{self, Tester};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    page::{Page, PageQuery},
    parameters::SearchQuery,
    problem::Problem,
};

/// Somebody who screens and tests here, or has done so.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TesterView {
    /// The user.
    id: Uuid,
    /// The name to sign in with, as a hand-over names who takes it.
    #[schema(example = "ines")]
    username: String,
    #[schema(example = "Ines Valdrun")]
    display_name: String,
    /// Whether the account is closed.
    closed: bool,
}

impl From<Tester> for TesterView {
    fn from(Tester { id, username, display_name, closed }: Tester) -> Self {
        Self { id, username, display_name, closed }
    }
}

/// Who tests here or has tested, by id; with `q`, those with that text in either name.
#[utoipa::path(tag = "look_backs", params(SearchQuery, PageQuery), responses((status = 200, body = Page<TesterView>)))]
#[get("/api/v1/testers")]
pub(crate) async fn list_testers(
    caller: Caller<op::ListTesters>,
    search: Query<SearchQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<TesterView>>, Problem> {
    let (site_id, window, text) = (caller.site_id(), page.window()?, search.text()?);
    let rows =
        caller.read_store(move |conn| tester::list(conn, site_id, text.as_deref(), window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |row| row.id, TesterView::from)))
}
