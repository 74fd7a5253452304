//! Printing: badges as a PDF, on cards, ten to a sheet, one to a page, or as slips.

use std::{
    fs,
    path::PathBuf,
    sync::{Mutex, PoisonError},
};

use actix_web::{
    HttpResponse, post,
    web::{Data, Json},
};
use anyhow::{Context, ensure};
use chrono::{DateTime, NaiveDate, Utc};
use sellion_badge::{
    Serial,
    sheet::{self, Fonts, Print, Printed, PrintedBadge, PrintedRespirator, SheetError},
};
use sellion_rules::{
    clearance::ClearanceState,
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    StoreError, Tx,
    badge::{self, Standing},
    site,
};
use serde::Deserialize;
use serde_json::json;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge::BadgeState,
    printer::{self, Layout, PrinterSettings, print},
    problem::Problem,
    state::State,
};

/// Badges in one document: a thousand take seconds and megabytes.
const BADGES_MAX: usize = 1000;

/// The fonts that badges are printed in. Read when the first badge is printed: the larger ones take a moment.
pub(crate) struct SheetFonts {
    files: Vec<PathBuf>,
    read: Mutex<Option<Fonts>>,
}

impl SheetFonts {
    /// A file that is not there is an error now and not on the evening of the fit-testing day.
    pub(crate) fn new(files: Vec<PathBuf>) -> anyhow::Result<Self> {
        for file in &files {
            ensure!(file.is_file(), "the font file {} is not there", file.display());
        }
        Ok(Self { files, read: Mutex::default() })
    }

    pub(crate) fn get(&self) -> anyhow::Result<Fonts> {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(fonts) = &*read {
            return Ok(fonts.clone());
        }
        let bytes = self
            .files
            .iter()
            .map(|file| {
                fs::read(file).with_context(|| format!("the font file {} cannot be read", file.display()))
            })
            .collect::<anyhow::Result<Vec<_>>>()?;
        let fonts = Fonts::with_extra(bytes)?;
        *read = Some(fonts.clone());
        Ok(fonts)
    }
}

/// What to print.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewBadgeSheet {
    layout: Layout,
    /// The first free place of a half-used sheet, counted along the rows from 0.
    #[serde(default)]
    first_place: usize,
    #[serde(default)]
    printer: PrinterSettings,
    /// The badges, in the order of printing: 1 to 1000.
    badge_ids: Vec<Uuid>,
}

/// Prints badges. The clearances are asked again: a badge that says more than holds now is refused.
#[utoipa::path(tag = "badges", responses(
    (status = 200, body = Vec<u8>, content_type = "application/pdf", headers(
        ("sellion-module-dots" = u32, description = "Dots on a side of the smallest module; below 4, try a code first."),
        ("sellion-module-mm" = f32, description = "The same in mm.")
    )),
    (status = 404, body = crate::problem::ProblemBody), (status = 409, body = crate::problem::ProblemBody),
    (status = 422, body = crate::problem::ProblemBody)
))]
#[post("/api/v1/badge_sheets")]
pub(crate) async fn create_badge_sheet(
    caller: Caller<op::CreateBadgeSheet>,
    state: Data<State>,
    body: Json<NewBadgeSheet>,
) -> Result<HttpResponse, Problem> {
    let NewBadgeSheet { layout, first_place, printer, badge_ids } = body.into_inner();
    let print = print(layout, first_place, printer)?;
    check_ids(&badge_ids)?;
    let printed = caller.write(move |tx| to_print(tx, layout, &badge_ids)).await?;
    document(state, printed, print).await
}

/// The answer that carries printed badges.
async fn document(
    state: Data<State>,
    badges: Vec<PrintedBadge>,
    print: Print,
) -> Result<HttpResponse, Problem> {
    let drawn = move |fonts: &Fonts| sheet::render(&badges, &print, fonts, &mut |_| {}).map_err(unprintable);
    Ok(answer(drawn_aside(state, drawn).await?))
}

/// Draws with the fonts of the server. Setting and drawing take milliseconds a badge: not on a thread that serves
/// others.
pub(crate) async fn drawn_aside<T: Send + 'static>(
    state: Data<State>,
    draw: impl FnOnce(&Fonts) -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    actix_web::web::block(move || draw(&state.fonts.get()?))
        .await
        .map_err(|error| Problem::internal(error.to_string()))?
}

pub(crate) fn answer(printed: Printed) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    for header in printer::told(printed.module) {
        answer.insert_header(header);
    }
    answer
        .content_type("application/pdf")
        .insert_header(("content-disposition", "inline; filename=\"badges.pdf\""))
        .body(printed.pdf)
}

fn check_ids(badge_ids: &[Uuid]) -> Result<(), Refusal> {
    let refused = |sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field("badge_ids"));
    if !(1..=BADGES_MAX).contains(&badge_ids.len()) {
        return refused(format!("Name 1 to {BADGES_MAX} badges."));
    }
    let mut seen = std::collections::HashSet::new();
    if !badge_ids.iter().all(|id| seen.insert(id)) {
        return refused("The same badge is named twice.".to_owned());
    }
    Ok(())
}

/// The badges as they are printed, with an audit row for each: a print is worth as much as the badge.
fn to_print(tx: &mut Tx<'_>, layout: Layout, badge_ids: &[Uuid]) -> Result<Vec<PrintedBadge>, StoreError> {
    let (site_id, now) = (tx.site_id(), tx.now);
    let site_name = site::find(tx.conn, site_id)?.name;
    let standings = badge::find_all(tx.conn, site_id, badge_ids)?;
    let mut printed = Vec::with_capacity(standings.len());
    for standing in standings {
        still_true(&standing, now)?;
        tx.touched_with("badges", standing.badge.id, json!({ "printed": layout }));
        printed.push(printed_badge(standing, &site_name)?);
    }
    Ok(printed)
}

pub(crate) fn still_true(standing: &Standing, now: DateTime<Utc>) -> Result<(), Refusal> {
    let id = standing.badge.id.to_string();
    if standing.ending.is_some() {
        return Err(badge::already_ended().field("badge_ids").fact("badge_id", id));
    }
    if !standing.holds.is_empty() {
        let sentence = "This badge is held: release the hold before it is printed, or issue a new badge.";
        return Err(Refusal::new(Code::BadgeHeld, sentence).field("badge_ids").fact("badge_id", id));
    }
    if standing.name() != standing.name_now {
        let sentence = "The person has another name now: make a new badge in place of this one.";
        return Err(Refusal::new(Code::BadgeOutdated, sentence).field("badge_ids").fact("badge_id", id));
    }
    let cleared = standing.respirators.iter().all(|worn| worn.is(ClearanceState::Cleared, now));
    if BadgeState::of(standing, now) == BadgeState::Valid && cleared {
        return Ok(());
    }
    let sentence = "What this badge says no longer holds: issue a new one.";
    Err(Refusal::new(Code::NotCleared, sentence).field("badge_ids").fact("badge_id", id))
}

pub(crate) fn printed_badge(standing: Standing, site_name: &str) -> Result<PrintedBadge, StoreError> {
    let name = standing.name().to_owned();
    let Standing { badge, respirators, .. } = standing;
    let serial = Serial::parse(&badge.serial)
        .map_err(|error| StoreError::internal(format!("badge {} has a bad serial: {error}", badge.id)))?;
    let last_day = respirators.iter().map(|worn| worn.due_on).max();
    Ok(PrintedBadge {
        display_name: name,
        serial,
        valid_until: last_day.map(day).unwrap_or_default(),
        respirators: respirators
            .into_iter()
            .map(|worn| PrintedRespirator { name: worn.name, size: worn.size, due_on: day(worn.due_on) })
            .collect(),
        code_text: badge.code,
        site_name: site_name.to_owned(),
    })
}

/// ISO 8601: the one form of a date that is read the same everywhere.
fn day(date: NaiveDate) -> String {
    date.format("%Y-%m-%d").to_string()
}

pub(crate) fn unprintable(error: SheetError) -> Problem {
    match error {
        SheetError::NoGlyph { serial, character } => {
            let sentence = format!(
                "No font here has the character {character:?} of badge {serial}: give the server a font that has."
            );
            Refusal::new(Code::NoGlyph, sentence)
                .fact("character", character.to_string())
                .fact("serial", serial.to_string())
                .into()
        }
        SheetError::TooLong { serial, part } => {
            let sentence = format!(
                "The {part} of badge {serial} is too long for this layout: try a4_single or letter_single."
            );
            Refusal::new(Code::InvalidValue, sentence).field("layout").into()
        }
        SheetError::CodeTooDense { serial, module_mm } => {
            let sentence = format!(
                "The modules of badge {serial} would be {module_mm:.2} mm on this printer, too small to read: try \
                 a4_single or letter_single, or a printer with more dots."
            );
            Refusal::new(Code::InvalidValue, sentence).field("printer").into()
        }
        other => Problem::internal(other.to_string()),
    }
}
