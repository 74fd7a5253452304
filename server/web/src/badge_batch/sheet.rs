//! The badges of a batch on paper: the same bytes each time, for as long as they say the same.

use actix_web::{
    HttpResponse, get,
    http::header::{HeaderName, HeaderValue},
    web::{Data, Path, Query},
};
use sellion_badge::{
    Serial,
    sheet::{self, Fonts, Print, Printed, PrintedBadge},
};
use sellion_rules::{
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{
    StoreError, Tx,
    badge::Standing,
    badge_batch::{self, Item, Outcome},
    site,
};
use serde::Deserialize;
use serde_json::json;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::{
    auth::Caller,
    badge_sheet::{self, answer, drawn_aside, printed_badge, still_true},
    printer::{Layout, PrinterSettings, print},
    problem::{Problem, ProblemBody},
    state::State,
};

/// How many badges are on the paper.
const PRINTED: HeaderName = HeaderName::from_static("sellion-badges");
/// How many that were asked for are not, because they no longer hold.
const LEFT_OUT: HeaderName = HeaderName::from_static("sellion-left-out");
/// The serials that cannot be printed so: they are too long, or have a letter that no font here has.
const UNPRINTABLE: HeaderName = HeaderName::from_static("sellion-unprintable");
/// More of these are no exception: then the whole sheet is refused with the reason.
const UNPRINTABLE_MAX: usize = 10;

/// Which badges of the batch, on which paper, by which printer.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct BatchSheetQuery {
    layout: Layout,
    /// The first free place of a half-used sheet, counted along the rows from 0.
    first_place: Option<usize>,
    /// 203, 300 or 600; 300 unless told.
    dots_per_inch: Option<u16>,
    /// To the right, in mm: -10 to 10.
    offset_x_mm: Option<f64>,
    /// Down, in mm: -10 to 10.
    offset_y_mm: Option<f64>,
    /// The first number to print, for the rest of a batch after the paper jammed.
    from: Option<i32>,
    /// The last number to print.
    to: Option<i32>,
}

impl BatchSheetQuery {
    fn printer(self) -> PrinterSettings {
        let usual = PrinterSettings::default();
        PrinterSettings {
            dots_per_inch: self.dots_per_inch.unwrap_or(usual.dots_per_inch),
            offset_x_mm: self.offset_x_mm.unwrap_or(usual.offset_x_mm),
            offset_y_mm: self.offset_y_mm.unwrap_or(usual.offset_y_mm),
        }
    }

    fn asks_for(self, item: &Item) -> bool {
        self.from.is_none_or(|from| from <= item.seq) && self.to.is_none_or(|to| item.seq <= to)
    }
}

/// What goes on paper, and how many badges no longer do.
struct Sheet {
    printed: Vec<PrintedBadge>,
    left_out: usize,
}

/// Prints the badges of a batch that is done, in its order. The clearances are asked again: a badge that no longer holds
/// is left out, and the batch says which. The same request gives the same bytes for as long as nothing changed.
#[utoipa::path(tag = "badges", params(("badge_batch_id" = Uuid, Path), BatchSheetQuery), responses(
    (status = 200, body = Vec<u8>, content_type = "application/pdf", headers(
        ("sellion-module-dots" = u32, description = "Dots on a side of the smallest module; below 4, try a code first."),
        ("sellion-module-mm" = f32, description = "The same in mm."),
        ("sellion-badges" = u32, description = "How many badges are on the paper."),
        ("sellion-left-out" = u32, description = "How many of those asked for no longer hold."),
        ("sellion-unprintable" = String, description = "Serials that cannot be printed so: try them one to a page.")
    )),
    (status = 404, body = ProblemBody),
    (status = 409, description = "The batch is still being made, or none of its badges holds any more.", body = ProblemBody),
    (status = 422, body = ProblemBody)
))]
#[get("/api/v1/badge_batches/{badge_batch_id}/sheet")]
pub(crate) async fn read_badge_batch_sheet(
    caller: Caller<op::ReadBadgeBatchSheet>,
    state: Data<State>,
    badge_batch_id: Path<Uuid>,
    query: Query<BatchSheetQuery>,
) -> Result<HttpResponse, Problem> {
    let (query, id) = (query.into_inner(), *badge_batch_id);
    let print = print(query.layout, query.first_place.unwrap_or_default(), query.printer())?;
    let Sheet { printed, left_out } = caller.write(move |tx| to_print(tx, id, query)).await?;
    let drawn = move |fonts: &Fonts| draw(printed, &print, fonts);
    let Drawn { document, badges, unprintable } = drawn_aside(state, drawn).await?;
    let mut answer = answer(document);
    let headers = answer.headers_mut();
    headers.insert(PRINTED, HeaderValue::from(badges));
    headers.insert(LEFT_OUT, HeaderValue::from(left_out));
    if !unprintable.is_empty() {
        let serials: Vec<String> = unprintable.iter().map(Serial::to_string).collect();
        let serials = HeaderValue::from_str(&serials.join(", "));
        headers.insert(UNPRINTABLE, serials.map_err(|error| Problem::internal(error.to_string()))?);
    }
    Ok(answer)
}

struct Drawn {
    document: Printed,
    badges: usize,
    unprintable: Vec<Serial>,
}

/// One name that fits no card must not keep six hundred people from their badges.
fn draw(mut badges: Vec<PrintedBadge>, print: &Print, fonts: &Fonts) -> Result<Drawn, Problem> {
    let mut unprintable = Vec::new();
    loop {
        let error = match sheet::render(&badges, print, fonts, &mut |_| {}) {
            Ok(document) => return Ok(Drawn { document, badges: badges.len(), unprintable }),
            Err(error) => error,
        };
        let place = error.serial().and_then(|serial| badges.iter().position(|badge| badge.serial == serial));
        match place {
            Some(place) if badges.len() > 1 && unprintable.len() < UNPRINTABLE_MAX => {
                unprintable.push(badges.remove(place).serial);
            }
            _ => return Err(badge_sheet::unprintable(error)),
        }
    }
}

/// The badges as they are printed, with an audit row for each: a print is worth as much as the badge.
fn to_print(tx: &mut Tx<'_>, id: Uuid, query: BatchSheetQuery) -> Result<Sheet, StoreError> {
    let (site_id, now) = (tx.site_id(), tx.now);
    if badge_batch::find(tx.conn, site_id, id)?.ended_at.is_none() {
        let sentence = "The badges of this batch are still being made: print them when it is done.";
        return Err(Refusal::new(Code::BatchRunning, sentence).into());
    }
    let site_name = site::find(tx.conn, site_id)?.name;
    let asked = badge_batch::items(tx.conn, site_id, id)?.into_iter().filter(|item| query.asks_for(item));
    let made: Vec<Standing> = asked
        .filter_map(|item| match item.outcome {
            Some(Outcome::Made(standing)) => Some(*standing),
            _ => None,
        })
        .collect();
    let asked = made.len();
    let mut printed = Vec::with_capacity(asked);
    for standing in made.into_iter().filter(|standing| still_true(standing, now).is_ok()) {
        tx.touched_with("badges", standing.badge.id, json!({ "printed": query.layout }));
        printed.push(printed_badge(standing, &site_name)?);
    }
    if printed.is_empty() {
        let sentence = "None of these badges holds any more: make a new batch.";
        return Err(Refusal::new(Code::BadgeOutdated, sentence).into());
    }
    Ok(Sheet { left_out: asked - printed.len(), printed })
}
