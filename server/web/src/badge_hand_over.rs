//! The badge desk's scanner: what a badge is, its hand-over to its person, and the badges that nobody came for.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_badge::Read;
use sellion_rules::{
    badge::DeskWord,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    badge,
    badge_hand_over::{self, NewHandOver},
    scan::Reading,
    unclaimed::{self, Unclaimed},
};
use serde::{Deserialize, Serialize};
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::{BadgeView, printed_serial},
    extract::happened,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    scan,
};

/// The longest line that is looked at: no code is longer.
const LINE_MAX: usize = 4_000;

/// What was read at the desk.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct BadgeReading {
    /// The text of the code, or a serial that was typed: one line as it came from a scanner or a keyboard.
    #[schema(example = "7KQ2M-XW9RD")]
    text: String,
    /// Who is at the desk, where the desk knows: another person's badge is told.
    person_id: Option<Uuid>,
}

/// What a badge is at the desk, and what to do with it. Nothing is handed over by reading it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BadgeReadingView {
    word: DeskWord,
    /// What to do, in plain words.
    #[schema(example = "Match name and face, hand the badge over, and say so here.")]
    instruction: &'static str,
    /// The badge, when it is one of ours.
    #[serde(skip_serializing_if = "Option::is_none")]
    badge: Option<BadgeView>,
    /// Its person's name now, where another one is printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    name_now: Option<String>,
}

/// Tells what a badge is that was read at the desk. That somebody was about to be given another person's badge is kept
/// in the audit chain.
#[utoipa::path(tag = "badges", responses(
    (status = 200, body = BadgeReadingView), (status = 422, body = ProblemBody)
))]
#[post("/api/v1/badge_readings")]
pub(crate) async fn read_badge_code(
    caller: Caller<op::ReadBadgeCode>,
    body: Json<BadgeReading>,
) -> Result<Json<BadgeReadingView>, Problem> {
    let BadgeReading { text, person_id } = body.into_inner();
    let (site_id, now) = (caller.site_id(), caller.now);
    let serial = serial_of(&caller, &text).await?;
    let found = caller
        .write(move |tx| {
            let standing = serial.as_deref().map(|serial| badge::with_serial(tx.conn, site_id, serial));
            let Some(standing) = standing.transpose()?.flatten() else { return Ok(None) };
            let word = badge_hand_over::word_of(tx.conn, site_id, &standing, person_id, now)?;
            if word == DeskWord::AnotherPerson {
                let detail = json!({ "read_for_another": person_id });
                tx.touched_with("badges", standing.badge.id, detail);
            }
            Ok(Some((word, standing)))
        })
        .await?;
    let word = found.as_ref().map_or(DeskWord::NotOurs, |(word, _)| *word);
    let standing = found.map(|(_, standing)| standing);
    let name_now = standing.as_ref().filter(|standing| standing.name() != standing.name_now);
    Ok(Json(BadgeReadingView {
        word,
        instruction: word.instruction(),
        name_now: name_now.map(|standing| standing.name_now.clone()),
        badge: standing.map(|standing| BadgeView::new(standing, false, now)),
    }))
}

/// The serial of what was read, as far as it is one of ours.
pub(crate) async fn serial_of<O: sellion_rules::roles::Op>(
    caller: &Caller<O>,
    text: &str,
) -> Result<Option<String>, Problem> {
    if text.trim().is_empty() || text.len() > LINE_MAX {
        let sentence = "Scan the code, or type the serial that is printed beside it.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("text").into());
    }
    let reading = scan::check(caller.state(), caller.site_id(), &Read::line(text), caller.now).await?;
    Ok(match reading {
        Reading::Serial(serial) => Some(serial),
        Reading::NotOurs(_) => None,
    })
}

/// That a badge went to its person.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeHandOver {
    /// Made by the client: a UUIDv7, the same on a repeat.
    #[schema(example = "01930b6e-6f00-7000-8000-0000000000d2")]
    id: Uuid,
    /// Who is at the desk, where the desk knows.
    person_id: Option<Uuid>,
    /// When it was handed over.
    happened_at: DateTime<Utc>,
}

/// Records that a badge went to its person. One that is held, has ended, or says what no longer holds is refused, with
/// what to do instead.
#[utoipa::path(tag = "badges", params(("badge_id" = Uuid, Path)), responses(
    (status = 201, body = BadgeView), (status = 404, body = ProblemBody),
    (status = 409, description = "It is held, has ended, has changed, or was handed over before.", body = ProblemBody),
    (status = 422, description = "It is another person's, or its person is cleared for nothing.", body = ProblemBody)
))]
#[post("/api/v1/badges/{badge_id}/hand_overs")]
pub(crate) async fn create_badge_hand_over(
    caller: Caller<op::CreateBadgeHandOver>,
    badge_id: Path<Uuid>,
    body: Json<NewBadgeHandOver>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeHandOver { id, person_id, happened_at } = body.into_inner();
    let new = NewHandOver {
        id,
        site_id: caller.site_id(),
        badge_id: *badge_id,
        happened_at: happened(happened_at, caller.now)?,
    };
    let now = caller.now;
    let standing = caller
        .write(move |tx| {
            badge_hand_over::create(tx, &new, person_id)?;
            badge::find(tx.conn, new.site_id, new.badge_id)
        })
        .await?;
    Ok(HttpResponse::Created().json(BadgeView::new(standing, true, now)))
}

/// A badge that nobody came for.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct UnclaimedBadgeView {
    badge_id: Uuid,
    #[schema(example = "7KQ2M-XW9RD")]
    serial: String,
    person_id: Uuid,
    /// As printed.
    #[schema(example = "Ines Valdrun")]
    name: String,
    #[schema(example = "004217")]
    staff_number: String,
    #[schema(example = "Heron ward")]
    unit: String,
    made_at: DateTime<Utc>,
    /// Since when it counts as unclaimed.
    unclaimed_since: DateTime<Utc>,
}

impl From<Unclaimed> for UnclaimedBadgeView {
    fn from(badge: Unclaimed) -> Self {
        let Unclaimed { badge_id, serial, person_id, name, staff_number, unit, made_at, since } = badge;
        let serial = printed_serial(serial);
        Self { badge_id, serial, person_id, name, staff_number, unit, made_at, unclaimed_since: since }
    }
}

/// Badges that count and were not handed over within the days that the site gives them, oldest first.
#[utoipa::path(tag = "badges", params(PageQuery), responses((status = 200, body = Page<UnclaimedBadgeView>)))]
#[get("/api/v1/unclaimed_badges")]
pub(crate) async fn list_unclaimed_badges(
    caller: Caller<op::ListUnclaimedBadges>,
    page: Query<PageQuery>,
) -> Result<Json<Page<UnclaimedBadgeView>>, Problem> {
    let (site_id, now, window) = (caller.site_id(), caller.now, page.window()?);
    let rows = caller.read_store(move |conn| unclaimed::list(conn, site_id, now, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |badge| badge.badge_id, UnclaimedBadgeView::from)))
}
