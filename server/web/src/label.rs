//! Labels: what a scanned or typed one means, and sheets of our own for bottles, nebulizers and hoods.

use actix_web::{
    HttpResponse, post,
    web::{Data, Json},
};
use chrono::Datelike;
use sellion_badge::{
    label::{Label, LabelKind, PREFIX},
    sheet::label_sheet::{self, Contents, LabelPaper, LabelSheetError, LabelWords, PrintedLabel},
};
use sellion_rules::{
    dates::local_date,
    equipment::EquipmentKind,
    gs1::{self, SupplyLabel},
    refusal::{Code, Refusal},
    roles::op,
};
use sellion_store::{PgConnection, StoreError, bottle, equipment, lot, site};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    bottle::BottleView,
    equipment::EquipmentView,
    judge::Judge,
    lot::LotView,
    problem::{Problem, ProblemBody},
    state::State,
};

/// Labels in one document.
const LABELS_MAX: usize = 500;

/// What was scanned or typed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLabelReading {
    /// A label of ours, what is written on a bottle, nebulizer or hood, or a GS1 element string of a supply box, as the
    /// scanner sent it.
    #[schema(example = "T-14")]
    text: String,
}

/// What a label means. Whatever it names is there; the rest is empty.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LabelMeaning {
    /// The bottle of this label.
    #[serde(skip_serializing_if = "Option::is_none")]
    bottle: Option<BottleView>,
    /// The nebulizer and the hood of this label.
    equipment: Vec<EquipmentView>,
    /// What a supply box says.
    #[serde(skip_serializing_if = "Option::is_none")]
    supply: Option<SupplyLabel>,
    /// The lots that are known by the lot number of the supply box.
    lots: Vec<LotView>,
}

/// Tells what a label means: one of ours, what is written on a bottle, nebulizer or hood, or that of a supply box.
#[utoipa::path(tag = "labels", responses(
    (status = 200, body = LabelMeaning),
    (status = 404, description = "It is one of ours, of a thing that is not here.", body = ProblemBody),
    (status = 422, description = "It cannot be read.", body = ProblemBody)
))]
#[post("/api/v1/label_readings")]
pub(crate) async fn read_label(
    caller: Caller<op::ReadLabel>,
    body: Json<NewLabelReading>,
) -> Result<Json<LabelMeaning>, Problem> {
    let (site_id, now, text) = (caller.site_id(), caller.now, body.into_inner().text);
    let read = caller
        .read_store(move |conn| {
            let judge = Judge::of_site(conn, site_id, now)?;
            let found = things(conn, site_id, &text)?;
            let bottle = found.bottle.map(|supply| BottleView::judged(&judge, supply)).transpose()?;
            let standing = |id| EquipmentView::try_from(equipment::standing(conn, site_id, id, now)?);
            let equipment = found.equipment.into_iter().map(standing).collect::<Result<Vec<_>, _>>()?;
            if bottle.is_some() || !equipment.is_empty() {
                return Ok(LabelMeaning { bottle, equipment, supply: None, lots: Vec::new() });
            }
            let year = local_date(now, site::zone(conn, site_id)?).year();
            let supply = gs1::read_label(&text, year)?;
            let known = match &supply.lot_number {
                Some(number) => lot::numbered(conn, site_id, number, supply.gtin.as_deref())?,
                None => Vec::new(),
            };
            let lots = known.into_iter().map(LotView::try_from).collect::<Result<_, _>>()?;
            Ok(LabelMeaning { bottle, equipment, supply: Some(supply), lots })
        })
        .await?;
    Ok(Json(read))
}

/// What of the site's own a label names.
#[derive(Default)]
struct Things {
    bottle: Option<bottle::Supply>,
    equipment: Vec<Uuid>,
}

fn things(conn: &mut PgConnection, site_id: Uuid, text: &str) -> Result<Things, StoreError> {
    let text = text.trim();
    let ours = text.get(..PREFIX.len()).is_some_and(|begin| begin.eq_ignore_ascii_case(PREFIX));
    if ours {
        let label = Label::parse(text).map_err(|error| {
            let sentence =
                format!("This label cannot be read: {error}. Scan it again, or type what is written on it.");
            Refusal::new(Code::LabelUnreadable, sentence).field("text")
        })?;
        return Ok(match label.kind {
            LabelKind::Bottle => {
                Things { bottle: Some(bottle::find(conn, site_id, label.id)?), ..Things::default() }
            }
            LabelKind::Nebulizer | LabelKind::Hood => {
                let found = equipment::find(conn, site_id, label.id)?;
                Things { equipment: vec![found.id], ..Things::default() }
            }
        });
    }
    let mut found = Things { bottle: bottle::labelled(conn, site_id, text)?, ..Things::default() };
    for kind in [EquipmentKind::Nebulizer, EquipmentKind::Hood] {
        found.equipment.extend(equipment::labelled(conn, site_id, kind, text)?.map(|thing| thing.id));
    }
    Ok(found)
}

/// The paper that labels are printed on: three by seven labels of 63.5 by 38.1 mm.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

/// Which labels to print.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLabelSheet {
    paper: Paper,
    /// The first free label of a half-used sheet, counted along the rows from 0.
    #[serde(default)]
    first_place: usize,
    #[serde(default)]
    bottle_ids: Vec<Uuid>,
    /// Nebulizers and hoods.
    #[serde(default)]
    equipment_ids: Vec<Uuid>,
}

/// Prints labels for bottles, nebulizers and hoods: one scan of them names the thing.
#[utoipa::path(tag = "labels", responses(
    (status = 200, body = Vec<u8>, content_type = "application/pdf"),
    (status = 404, description = "One of them is not here.", body = ProblemBody),
    (status = 422, description = "There is none to print, or a text does not fit.", body = ProblemBody)
))]
#[post("/api/v1/label_sheets")]
pub(crate) async fn create_label_sheet(
    caller: Caller<op::CreateLabelSheet>,
    state: Data<State>,
    body: Json<NewLabelSheet>,
) -> Result<HttpResponse, Problem> {
    let NewLabelSheet { paper, first_place, bottle_ids, equipment_ids } = body.into_inner();
    if !(1..=LABELS_MAX).contains(&bottle_ids.len().saturating_add(equipment_ids.len())) {
        let sentence = format!("Name 1 to {LABELS_MAX} bottles, nebulizers and hoods.");
        return Err(Refusal::new(Code::InvalidValue, sentence).field("bottle_ids").into());
    }
    let site_id = caller.site_id();
    let labels = caller
        .read_store(move |conn| {
            let bottles = bottle_ids.iter().map(|id| of_bottle(&bottle::find(conn, site_id, *id)?));
            let mut labels = bottles.collect::<Result<Vec<_>, StoreError>>()?;
            for id in &equipment_ids {
                let thing = equipment::find(conn, site_id, *id)?;
                labels.push(of_equipment(conn, site_id, &thing)?);
            }
            Ok(labels)
        })
        .await?;
    let paper = match paper {
        Paper::A4 => LabelPaper::A4,
        Paper::Letter => LabelPaper::Letter,
    };
    // Drawing takes milliseconds a label: not on a thread that serves others.
    let pdf = actix_web::web::block(move || render(&state, &labels, paper, first_place))
        .await
        .map_err(|error| Problem::internal(error.to_string()))??;
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header(("content-disposition", "inline; filename=\"labels.pdf\""))
        .body(pdf))
}

fn of_bottle(supply: &bottle::Supply) -> Result<PrintedLabel, StoreError> {
    let lot = &supply.lot;
    Ok(PrintedLabel {
        id: supply.bottle.id,
        words: LabelWords::Bottle {
            contents: Contents { agent: lot.agent()?, solution: lot.solution()? },
            lot_number: lot.lot_number.clone(),
            use_until: lot.printed_expiry()?.last_day().to_string(),
            opened_life_days: lot.opened_life_days.and_then(|days| u32::try_from(days).ok()),
        },
    })
}

fn of_equipment(
    conn: &mut PgConnection,
    site_id: Uuid,
    thing: &equipment::Equipment,
) -> Result<PrintedLabel, StoreError> {
    let name = thing.label.clone();
    let words = match thing.kind()? {
        EquipmentKind::Hood => LabelWords::Hood { name },
        EquipmentKind::Nebulizer => {
            let held = equipment::last_liquid(conn, site_id, &thing.label)?;
            let contents = held.map(|(agent, solution)| Contents { agent, solution });
            LabelWords::Nebulizer { name, contents }
        }
    };
    Ok(PrintedLabel { id: thing.id, words })
}

fn render(
    state: &State,
    labels: &[PrintedLabel],
    paper: LabelPaper,
    first_place: usize,
) -> Result<Vec<u8>, Problem> {
    let fonts = state.fonts.get()?;
    label_sheet::render(labels, paper, first_place, &fonts, &mut |_| {}).map_err(|error| match error {
        LabelSheetError::FirstPlace { last } => {
            let sentence = format!("A sheet has the places 0 to {last}.");
            Refusal::new(Code::InvalidValue, sentence).field("first_place").into()
        }
        LabelSheetError::NoGlyph { character, .. } => {
            let sentence =
                format!("No font here has the character {character:?}: give the server one that has.");
            Refusal::new(Code::NoGlyph, sentence).fact("character", character.to_string()).into()
        }
        LabelSheetError::TooLong { label, part } => {
            let sentence = format!("The {part} of {label} is too long for a label.");
            Refusal::new(Code::InvalidValue, sentence).field("bottle_ids").into()
        }
        other => Problem::internal(other.to_string()),
    })
}
