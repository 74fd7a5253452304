//! How the keys that sign badges stand. They are made and changed by command, and no operation touches them.

use actix_web::{get, web::Json};
use chrono::{DateTime, Utc};
use sellion_rules::{roles::op, signing_key::KeyState};
use sellion_store::signing_key::{self, KeyStanding};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{auth::Caller, problem::Problem};

/// One key: what it is called and how it stands, and nothing that signs.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SigningKeyView {
    /// The id that badges, and the published set of keys, name it by.
    #[schema(example = "pcXC3eu7")]
    kid: String,
    state: KeyState,
    created_at: DateTime<Utc>,
    /// Since when it signs nothing new; absent while it signs or stands by.
    #[serde(skip_serializing_if = "Option::is_none")]
    signs_until: Option<DateTime<Utc>>,
    /// Since when nothing that it signed is accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    retired_at: Option<DateTime<Utc>>,
    /// Badges in force that stand on it.
    #[schema(example = 412)]
    badges_in_force: i64,
}

impl From<(KeyStanding, i64)> for SigningKeyView {
    fn from((key, badges_in_force): (KeyStanding, i64)) -> Self {
        let state = key.state();
        let KeyStanding { kid, created_at, signs_until, retired_at, .. } = key;
        Self { kid, state, created_at, signs_until, retired_at, badges_in_force }
    }
}

/// Every key of the site; of few keys there is one page.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SigningKeyList {
    /// Oldest first.
    items: Vec<SigningKeyView>,
}

/// The keys that sign the site's badges, oldest first, those that have ended too.
#[utoipa::path(tag = "keys", responses((status = 200, body = SigningKeyList)))]
#[get("/api/v1/signing_keys")]
pub(crate) async fn list_signing_keys(
    caller: Caller<op::ListSigningKeys>,
) -> Result<Json<SigningKeyList>, Problem> {
    let (site_id, now) = (caller.site_id(), caller.now);
    let keys = caller.read_store(move |conn| signing_key::list(conn, site_id, now)).await?;
    Ok(Json(SigningKeyList { items: keys.into_iter().map(SigningKeyView::from).collect() }))
}
