//! Badges: issuing them, ending them, and what each is worth now.

use actix_web::{
    HttpResponse, get, post,
    web::{Data, Json, Path, Query},
};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_badge::{BadgeClaims, ClearedRespirator, Serial, SigningKey, code, token};
use sellion_rules::{
    badge::MisprintCause,
    clearance::ClearanceState,
    refusal::{Code, Refusal},
    roles::{Role, op},
};
use sellion_store::{
    StoreError, Tx,
    badge::{self, BadgeRespirator, Draft, Filter, NewEnding, REPLACED, Signed, Standing},
};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge_hold::BadgeHoldView,
    extract::happened,
    page::{Page, PageQuery},
    problem::Problem,
    state::State,
};

/// Hexadecimal digits of the site's id that name it as an issuer: every byte of a token makes its code denser.
const ISSUER_LENGTH: usize = 12;

/// What a badge is worth now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum BadgeState {
    /// It may be used.
    Valid,
    /// It is held, or a result it stands on is being looked into.
    Held,
    /// Its last day is over.
    Expired,
    /// A newer badge took its place.
    Replaced,
    /// It was ended for good.
    Ended,
}

impl BadgeState {
    pub(crate) fn of(standing: &Standing, now: DateTime<Utc>) -> Self {
        let any = |state| standing.respirators.iter().any(|worn| worn.is(state, now));
        match standing.ending.as_deref() {
            Some(REPLACED) => Self::Replaced,
            Some(_) => Self::Ended,
            None if standing.badge.expires_at <= now => Self::Expired,
            None if !standing.holds.is_empty() => Self::Held,
            None if any(ClearanceState::Held) && !any(ClearanceState::Cleared) => Self::Held,
            None => Self::Valid,
        }
    }
}

/// A respirator on a badge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeRespiratorView {
    respirator_id: Uuid,
    #[schema(example = "Orlevane 31 fold")]
    name: String,
    #[schema(example = "medium")]
    size: String,
    /// The last day the clearance covered when the badge was issued.
    due_on: NaiveDate,
    /// Whether the person is cleared for it now.
    cleared_now: bool,
}

/// A badge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeView {
    id: Uuid,
    person_id: Uuid,
    /// The person's name, as printed.
    #[schema(example = "Ines Valdrun")]
    name: String,
    /// When it was handed to its person; absent until then.
    #[serde(skip_serializing_if = "Option::is_none")]
    handed_over_at: Option<DateTime<Utc>>,
    /// How often a badge of this person was made in place of another one.
    #[schema(example = 0)]
    reprints: i64,
    /// As printed beside the code.
    #[schema(example = "7KQ2M-XW9RD")]
    serial: String,
    status: BadgeState,
    /// The first moment at which it no longer holds.
    expires_at: DateTime<Utc>,
    respirators: Vec<BadgeRespiratorView>,
    /// The holds in force, oldest first.
    holds: Vec<BadgeHoldView>,
    /// The text of the printed code, for those who print.
    #[serde(skip_serializing_if = "Option::is_none")]
    code: Option<String>,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl BadgeView {
    pub(crate) fn new(standing: Standing, prints: bool, now: DateTime<Utc>) -> Self {
        let status = BadgeState::of(&standing, now);
        let name = standing.name().to_owned();
        let Standing { badge, holds, respirators, handed_over_at, reprints, .. } = standing;
        let view = |worn: BadgeRespirator| BadgeRespiratorView {
            cleared_now: worn.is(ClearanceState::Cleared, now),
            respirator_id: worn.respirator_id,
            name: worn.name,
            size: worn.size,
            due_on: worn.due_on,
        };
        Self {
            id: badge.id,
            person_id: badge.person_id,
            name,
            handed_over_at,
            reprints,
            serial: printed_serial(badge.serial),
            status,
            expires_at: badge.expires_at,
            respirators: respirators.into_iter().map(view).collect(),
            holds: holds.into_iter().map(BadgeHoldView::from).collect(),
            code: prints.then_some(badge.code),
            happened_at: badge.happened_at,
            recorded_at: badge.recorded_at,
        }
    }
}

/// A serial as it is printed.
pub(crate) fn printed_serial(stored: String) -> String {
    Serial::parse(&stored).map_or(stored, |serial| serial.to_string())
}

/// Whoever can hold a printed badge may see its code; whoever only audits may not, since it opens gates.
pub(crate) fn prints(roles: &[Role]) -> bool {
    roles.iter().any(|role| matches!(role, Role::BadgeDesk | Role::Coordinator))
}

/// Which badges.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct BadgeQuery {
    /// Only this person's.
    person_id: Option<Uuid>,
    /// Only those of people who visit this day.
    day_id: Option<Uuid>,
}

/// Badges, ended ones among them.
#[utoipa::path(tag = "badges", params(BadgeQuery, PageQuery), responses((status = 200, body = Page<BadgeView>)))]
#[get("/api/v1/badges")]
pub(crate) async fn list_badges(
    caller: Caller<op::ListBadges>,
    query: Query<BadgeQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<BadgeView>>, Problem> {
    let (site_id, window, now) = (caller.site_id(), page.window()?, caller.now);
    let filter = Filter { person_id: query.person_id, day_id: query.day_id };
    let rows = caller.read_store(move |conn| badge::list(conn, site_id, filter, window.fetch())).await?;
    let prints = prints(&caller.sign_in().roles);
    let view = |standing| BadgeView::new(standing, prints, now);
    Ok(Json(Page::of(rows, window, |standing| standing.badge.id, view)))
}

/// One badge.
#[utoipa::path(tag = "badges", params(("badge_id" = Uuid, Path)), responses(
    (status = 200, body = BadgeView), (status = 404, body = crate::problem::ProblemBody)
))]
#[get("/api/v1/badges/{badge_id}")]
pub(crate) async fn read_badge(
    caller: Caller<op::ReadBadge>,
    badge_id: Path<Uuid>,
) -> Result<Json<BadgeView>, Problem> {
    let (site_id, id) = (caller.site_id(), *badge_id);
    let standing = caller.read_store(move |conn| badge::find(conn, site_id, id)).await?;
    Ok(Json(BadgeView::new(standing, prints(&caller.sign_in().roles), caller.now)))
}

/// A badge to be issued.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadge {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c1")]
    id: Uuid,
    /// Whose.
    person_id: Uuid,
    /// When it was asked for.
    happened_at: DateTime<Utc>,
}

/// Issues a badge for what the person is cleared for at this moment.
///
/// The badge the person had before ends as replaced; while that one is under review there is no new one. With more than four cleared respirators, the four that are
/// due last are on it.
#[utoipa::path(tag = "badges", responses(
    (status = 201, body = BadgeView), (status = 404, body = crate::problem::ProblemBody),
    (status = 409, body = crate::problem::ProblemBody), (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/badges")]
pub(crate) async fn create_badge(
    caller: Caller<op::CreateBadge>,
    state: Data<State>,
    body: Json<NewBadge>,
) -> Result<HttpResponse, Problem> {
    let NewBadge { id, person_id, happened_at } = body.into_inner();
    let new = badge::NewBadge { id, person_id, happened_at: happened(happened_at, caller.now)? };
    let now = caller.now;
    let standing = caller
        .write(move |tx| {
            issue(&state, tx, &new)?;
            let site_id = tx.site_id();
            badge::find(tx.conn, site_id, new.id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}

/// Makes a badge with the site's key.
pub(crate) fn issue(state: &State, tx: &mut Tx<'_>, new: &badge::NewBadge) -> Result<(), StoreError> {
    let (key_id, key) = state.keys.signing_key(tx)?;
    badge::create(tx, new, key_id, &|draft| sign(draft, &key)).map(drop)
}

/// What names a site as an issuer of badges.
pub(crate) fn issuer(site_id: Uuid) -> String {
    let site = site_id.simple().to_string();
    site[site.len() - ISSUER_LENGTH..].to_owned()
}

/// The draft as a signed token in the text of a code, with a serial drawn for it.
fn sign(draft: &Draft, key: &SigningKey) -> Result<Signed, StoreError> {
    let fault = |error: String| StoreError::internal(format!("a badge could not be signed: {error}"));
    let serial = Serial::from_uuid(Uuid::now_v7());
    let claims = BadgeClaims {
        issuer: issuer(draft.site_id),
        serial,
        issued_at: draft.issued_at,
        expires_at: draft.expires_at,
        status_index: u64::try_from(draft.status_index).map_err(|error| fault(error.to_string()))?,
        respirators: draft
            .respirators
            .iter()
            .map(|(number, due_on)| ClearedRespirator { code: number.to_string(), due_on: *due_on })
            .collect(),
    };
    let jwt = token::sign(&claims, key).map_err(|error| fault(error.to_string()))?;
    let code = code::pack(&jwt).map_err(|error| fault(error.to_string()))?;
    Ok(Signed { serial: serial.compact(), code })
}

/// Why a badge ends.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum EndingReason {
    /// The person no longer has it.
    Lost,
    /// It cannot be read any more.
    Damaged,
    /// It was printed wrong.
    Misprint,
    /// The person has left.
    Left,
    /// It was taken back.
    Withdrawn,
}

impl EndingReason {
    fn as_str(self) -> &'static str {
        match self {
            Self::Lost => "lost",
            Self::Damaged => "damaged",
            Self::Misprint => "misprint",
            Self::Left => "left",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// The end of a badge.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeEnding {
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000c2")]
    id: Uuid,
    reason: EndingReason,
    /// With the reason `misprint`: how it was spoiled.
    misprint: Option<MisprintCause>,
    /// When it was lost, taken back and so on.
    happened_at: DateTime<Utc>,
}

/// Ends a badge for good: from the next scan on, gates say that it is not valid.
#[utoipa::path(tag = "badges", params(("badge_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeView), (status = 404, body = crate::problem::ProblemBody),
    (status = 409, body = crate::problem::ProblemBody), (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/badges/{badge_id}/endings")]
pub(crate) async fn end_badge(
    caller: Caller<op::EndBadge>,
    badge_id: Path<Uuid>,
    body: Json<NewBadgeEnding>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeEnding { id, reason, misprint, happened_at } = body.into_inner();
    if misprint.is_some() && !matches!(reason, EndingReason::Misprint) {
        let sentence = "How it was spoiled belongs to a misprint: give that reason, or leave it out.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("misprint").into());
    }
    let new = NewEnding {
        id,
        site_id: caller.site_id(),
        badge_id: *badge_id,
        reason: reason.as_str().to_owned(),
        misprint: misprint.map(|cause| cause.as_str().to_owned()),
        happened_at: happened(happened_at, caller.now)?,
    };
    let now = caller.now;
    let standing = caller
        .write(move |tx| {
            badge::end(tx, &new)?;
            badge::find(tx.conn, new.site_id, new.badge_id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}
