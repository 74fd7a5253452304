//! Users: people who sign in, and what they may do.

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::{
    refusal::Refusal,
    roles::{self, Role, op},
};
use sellion_store::{
    TextList,
    user::{self, NewUser as NewRow, User, UserChange},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::{Caller, password::Password},
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line, username},
};

/// Somebody who signs in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct UserView {
    id: Uuid,
    /// What they sign in with, in lower case.
    #[schema(example = "ines.valdrun")]
    username: String,
    /// What the screens call them.
    #[schema(example = "Ines Valdrun")]
    display_name: String,
    roles: Vec<Role>,
    /// Since when the account is closed.
    disabled_at: Option<DateTime<Utc>>,
    /// Counts the changes; also sent as `ETag`.
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<User> for UserView {
    fn from(row: User) -> Self {
        let User { id, username, display_name, roles, disabled_at, version, created_at } = row;
        Self { id, username, display_name, roles: roles.parsed(), disabled_at, version, created_at }
    }
}

/// A user to be added.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewUser {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// 1 to 64 letters, digits and any of `. _ - @`; kept in lower case. No two users of any site share one.
    #[schema(example = "ines.valdrun")]
    username: String,
    #[schema(example = "Ines Valdrun")]
    display_name: String,
    /// At least one.
    roles: Vec<Role>,
    /// 10 to 256 characters.
    #[schema(value_type = String, format = Password, example = "a long pass phrase")]
    password: Password,
}

/// What may change about a user; members left out stay as they are.
///
/// Other roles, another password or a closed account sign the user out everywhere.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct UserPatch {
    #[schema(example = "Ines Valdrun-Roe")]
    display_name: Option<String>,
    roles: Option<Vec<Role>>,
    #[schema(value_type = Option<String>, format = Password, example = "another long pass phrase")]
    password: Option<Password>,
    /// Whether the account is closed.
    #[schema(example = false)]
    disabled: Option<bool>,
}

fn role_list(roles: &[Role]) -> Result<TextList, Refusal> {
    Ok(TextList::of(roles::each_once(roles)?.iter().map(|role| role.as_str())))
}

/// Hashing takes tens of milliseconds of processor time: not on a thread that serves others.
async fn hashed(password: Password) -> Result<String, Problem> {
    let hashed = actix_web::web::block(move || password.hash()).await;
    Ok(hashed.map_err(|error| Problem::internal(error.to_string()))??)
}

/// The users of the site, closed accounts too.
#[utoipa::path(tag = "users", params(PageQuery), responses((status = 200, body = Page<UserView>), (status = 400, body = ProblemBody)))]
#[get("/api/v1/users")]
pub(crate) async fn list_users(
    caller: Caller<op::ListUsers>,
    page: Query<PageQuery>,
) -> Result<Json<Page<UserView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| user::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |row| row.id, UserView::from)))
}

/// Adds a user.
#[utoipa::path(tag = "users", responses((status = 201, body = UserView), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[post("/api/v1/users")]
pub(crate) async fn create_user(
    caller: Caller<op::CreateUser>,
    body: Json<NewUser>,
) -> Result<HttpResponse, Problem> {
    let body = body.into_inner();
    let new = NewRow {
        id: body.id,
        site_id: caller.site_id(),
        username: username(&body.username)?,
        display_name: line(&body.display_name, "display_name", SHORT)?,
        roles: role_list(&body.roles)?,
    };
    let hash = hashed(body.password).await?;
    let row = caller
        .write(move |tx| {
            user::create(tx, &new, &hash)?;
            user::find(tx.conn, new.site_id, new.id)
        })
        .await?;
    Ok(with_etag(HttpResponse::Created(), row.version).json(UserView::from(row)))
}

/// Changes a user, resets their password, closes or opens their account.
///
/// Nobody can close their own account or give up their own admin role.
#[utoipa::path(tag = "users", params(IfMatch), responses((status = 200, body = UserView), (status = 404, body = ProblemBody), (status = 409, body = ProblemBody), (status = 422, body = ProblemBody)))]
#[patch("/api/v1/users/{user_id}")]
pub(crate) async fn update_user(
    caller: Caller<op::UpdateUser>,
    id: Path<Uuid>,
    version: IfMatch,
    body: Json<UserPatch>,
) -> Result<HttpResponse, Problem> {
    let (id, body) = (id.into_inner(), body.into_inner());
    let display_name = body.display_name.map(|name| line(&name, "display_name", SHORT)).transpose()?;
    let roles = body.roles.map(|roles| role_list(&roles)).transpose()?;
    let password_hash = match body.password {
        Some(password) => Some(hashed(password).await?),
        None => None,
    };
    let change = UserChange { display_name, roles, password_hash, disabled: body.disabled };
    let row = caller.write(move |tx| user::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), row.version).json(UserView::from(row)))
}
