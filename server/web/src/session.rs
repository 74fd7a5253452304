//! Signing in and out.

use actix_web::{
    HttpRequest, HttpResponse,
    cookie::{Cookie, SameSite},
    delete, get, post,
    web::{Data, Json},
};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::{Role, op},
};
use sellion_store::{
    Actor, device,
    session::{self, Account},
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::{COOKIE, Caller, SignIn, password::Password},
    problem::Problem,
    state::State,
    words,
};

/// A long shift and the way home; nobody should have to sign in during a test.
const SESSION_LIFE: TimeDelta = TimeDelta::hours(14);

/// Who wants to sign in.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct NewSession {
    /// The username, in any case.
    #[schema(example = "ines.valdrun")]
    username: String,
    /// The password.
    #[schema(value_type = String, format = Password, example = "a long pass phrase")]
    password: Password,
}

/// Who is signed in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SessionView {
    /// The user, or the device.
    user_id: Uuid,
    /// What the screens call them.
    display_name: String,
    /// The site everything belongs to.
    site_id: Uuid,
    /// What they may do.
    roles: Vec<Role>,
    /// When the session ends by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    expires_at: Option<DateTime<Utc>>,
}

/// Signs a person in: the answer sets a cookie that later requests send back.
///
/// Failed tries are counted per account and per address; too many, and both have to wait.
#[utoipa::path(tag = "sessions", responses(
    (status = 201, body = SessionView), (status = 401, body = crate::problem::ProblemBody), (status = 429, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/sessions")]
pub(crate) async fn create_session(
    request: HttpRequest,
    state: Data<State>,
    body: Json<NewSession>,
) -> Result<HttpResponse, Problem> {
    let now = state.clock.now();
    let NewSession { username, password } = body.into_inner();
    // What cannot be a username is nobody's, and has to wait and fail like any other unknown one.
    let username = words::username(&username).unwrap_or_default();
    let address = request.peer_addr().map_or_else(String::new, |peer| peer.ip().to_string());
    let account = prove(&state, username, password, address, now).await?;
    let (id, expires_at) = (Uuid::now_v7(), now + SESSION_LIFE);
    let roles: Vec<Role> = account.roles.parsed();
    let actor = Actor::program(account.site_id);
    let opened = account.clone();
    state
        .store
        .write_as(&actor, "create_session", now, move |tx| session::create(tx, id, &opened, expires_at))
        .await?;
    let sign_in = SignIn::user(account.id, id, account.site_id, roles.clone(), expires_at);
    let cookie = Cookie::build(COOKIE, state.tokens.sign(&sign_in)?)
        .path("/")
        .http_only(true)
        .same_site(SameSite::Strict)
        .secure(state.secure_cookie)
        .finish();
    Ok(HttpResponse::Created().cookie(cookie).json(SessionView {
        user_id: account.id,
        display_name: account.display_name,
        site_id: account.site_id,
        roles,
        expires_at: Some(expires_at),
    }))
}

/// The account, when username and password belong together and neither failed too often.
async fn prove(
    state: &Data<State>,
    username: String,
    password: Password,
    address: String,
    now: DateTime<Utc>,
) -> Result<Account, Problem> {
    let key = (username.clone(), address.clone());
    let (wait, account) = state
        .store
        .run(move |conn| {
            let wait = session::throttled_for(conn, &key.0, &key.1, now)?;
            Ok((wait, session::find_account(conn, &key.0)?))
        })
        .await?;
    if let Some(seconds) = wait {
        let sentence =
            "Too many sign-ins failed for this account or from this address: wait, then try again.";
        return Err(Refusal::new(Code::SignInThrottled, sentence)
            .fact("retry_after_seconds", seconds)
            .into());
    }
    // Hashing takes tens of milliseconds of processor time: not on a thread that serves others.
    let checked = actix_web::web::block(move || match account {
        Some(account) => password.matches(&account.password_hash).then_some(account),
        None => {
            password.matches_nobody();
            None
        }
    })
    .await
    .map_err(|error| Problem::internal(error.to_string()))?;
    if let Some(account) = checked {
        return Ok(account);
    }
    state.store.run(move |conn| session::record_failure(conn, &username, &address, now)).await?;
    Err(Refusal::new(Code::SignInRefused, "Username and password do not belong together.").into())
}

/// Who is signed in with this cookie or token.
#[utoipa::path(tag = "sessions", responses((status = 200, body = SessionView)))]
#[get("/api/v1/sessions/current")]
pub(crate) async fn read_current_session(
    caller: Caller<op::ReadCurrentSession>,
) -> Result<Json<SessionView>, Problem> {
    let sign_in = caller.sign_in().clone();
    let (site_id, user, is_device) = (sign_in.site, sign_in.sub, sign_in.device);
    let display_name = caller
        .read_store(move |conn| {
            if is_device {
                Ok(device::find(conn, site_id, user)?.name)
            } else {
                Ok(session::read_account(conn, user)?.display_name)
            }
        })
        .await?;
    Ok(Json(SessionView {
        user_id: user,
        display_name,
        site_id: sign_in.site,
        roles: sign_in.roles,
        expires_at: None,
    }))
}

/// Signs out: the session ends on the server, and the cookie goes.
#[utoipa::path(tag = "sessions", responses((status = 204)))]
#[delete("/api/v1/sessions/current")]
pub(crate) async fn delete_current_session(
    caller: Caller<op::DeleteCurrentSession>,
) -> Result<HttpResponse, Problem> {
    let session = caller.actor().session_id;
    caller
        .write(move |tx| match session {
            Some(id) => session::end(tx, id),
            None => {
                Err(Refusal::new(Code::InvalidValue, "A device signs out by having its token ended.").into())
            }
        })
        .await?;
    let mut gone = Cookie::build(COOKIE, "").path("/").http_only(true).finish();
    gone.make_removal();
    Ok(HttpResponse::NoContent().cookie(gone).finish())
}
