//! Lots of solution: receiving them, stopping them, releasing them.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Datelike, NaiveDate, Utc};
use sellion_rules::{
    dates::PrintedExpiry,
    gs1,
    refusal::{Code, Refusal},
    roles::op,
    supplies::{Agent, LabelReading, PieceKind, Solution},
};
use sellion_store::{
    StoreError,
    lot::{self, Lot, NewLot as NewRow, NewLotMark},
};
use serde::{Deserialize, Serialize};
use serde_json::from_value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, plausible},
    page::{Page, PageQuery},
    preparation::Prepared,
    problem::{Problem, ProblemBody},
    stop::Reach,
    words::{LONG, SHORT, line, number},
};

/// Ten years: a longer life after opening is a slip of the pen.
const OPENED_LIFE_DAYS_MAX: u32 = 3650;

/// One supplied batch of one solution.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LotView {
    id: Uuid,
    /// What is noticed; none of what is counted in pieces.
    #[serde(skip_serializing_if = "Option::is_none")]
    agent: Option<Agent>,
    #[serde(skip_serializing_if = "Option::is_none")]
    solution: Option<Solution>,
    /// What is counted in pieces; none of a solution or of smoke tubes.
    #[serde(skip_serializing_if = "Option::is_none")]
    supply: Option<PieceKind>,
    /// Of facepieces, which respirator.
    #[serde(skip_serializing_if = "Option::is_none")]
    respirator_id: Option<Uuid>,
    /// As on the label.
    #[schema(example = "SB-2231")]
    lot_number: String,
    /// The number on the outer box, where it is another one.
    #[serde(skip_serializing_if = "Option::is_none")]
    box_lot_number: Option<String>,
    /// The trade item number, where the label has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    gtin: Option<String>,
    /// How its label was read; none where it was typed once.
    #[serde(skip_serializing_if = "Option::is_none")]
    label_read: Option<LabelReading>,
    /// The expiry, as printed; none where pieces have none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-08")]
    printed_expiry: Option<String>,
    /// The last day that the printed expiry names.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-08-31")]
    expires_on: Option<NaiveDate>,
    /// Days its bottles may be used after the day of opening, where its label says so.
    #[schema(example = 90)]
    opened_life_days: Option<i32>,
    /// How it was made, where it was made in-house.
    #[serde(skip_serializing_if = "Option::is_none")]
    prepared: Option<Prepared>,
    /// Whether it must not be used.
    stopped: bool,
    happened_at: DateTime<Utc>,
    recorded_at: DateTime<Utc>,
}

impl LotView {
    pub(crate) fn id(&self) -> Uuid {
        self.id
    }
}

impl TryFrom<(Lot, bool)> for LotView {
    type Error = StoreError;

    fn try_from((lot, stopped): (Lot, bool)) -> Result<Self, StoreError> {
        let supply = lot.piece_kind()?;
        let dissolved = supply.is_none();
        let prepared = lot.prepared.clone().map(from_value).transpose();
        let prepared = prepared.map_err(|error| StoreError::internal(error.to_string()))?;
        Ok(Self {
            agent: dissolved.then(|| lot.agent()).transpose()?,
            solution: dissolved.then(|| lot.solution()).transpose()?,
            label_read: lot.label_read()?,
            id: lot.id,
            supply,
            respirator_id: lot.respirator_id,
            lot_number: lot.lot_number,
            box_lot_number: lot.box_lot_number,
            gtin: lot.gtin,
            printed_expiry: lot.printed_expiry,
            expires_on: lot.expires_on,
            opened_life_days: lot.opened_life_days,
            prepared,
            stopped,
            happened_at: lot.happened_at,
            recorded_at: lot.recorded_at,
        })
    }
}

/// A lot to be received: of a solution, of smoke tubes, or of pieces.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLot {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// What is noticed; left out for pieces.
    agent: Option<Agent>,
    /// The strength; left out for pieces.
    solution: Option<Solution>,
    /// What is counted in pieces; left out for a solution and for smoke tubes.
    supply: Option<PieceKind>,
    /// Of facepieces, which respirator.
    respirator_id: Option<Uuid>,
    /// What a scanner read from the supplier's label: a GS1 element string with lot and expiry in it.
    #[schema(example = "010950600013437617280300\u{1d}10SB-2231")]
    label: Option<String>,
    /// As on the label; left out where the label was scanned.
    #[schema(example = "SB-2231")]
    lot_number: Option<String>,
    /// The lot number typed a second time, without looking at the first; left out where the label was scanned.
    #[schema(example = "SB-2231")]
    lot_number_again: Option<String>,
    /// The number on the outer box, where it is another one.
    box_lot_number: Option<String>,
    /// As printed: a day, or a month whose last day is meant. Left out where the label was scanned; pieces may have none.
    #[schema(example = "2027-08")]
    printed_expiry: Option<String>,
    /// Days its bottles may be used after the day of opening, where its label says so.
    #[schema(example = 90)]
    opened_life_days: Option<u32>,
    #[schema(example = "2026-03-02T09:00:00Z")]
    happened_at: DateTime<Utc>,
}

/// What the label says, however it was read.
struct Label {
    lot_number: String,
    printed: Option<PrintedExpiry>,
    gtin: Option<String>,
    read: LabelReading,
}

impl NewLot {
    fn row(self, site_id: Uuid, now: DateTime<Utc>) -> Result<NewRow, Refusal> {
        let happened_at = happened(self.happened_at, now)?;
        self.one_kind()?;
        let label = self.label(now)?;
        let last_day = label.printed.as_ref().map(|printed| plausible(printed.last_day(), "printed_expiry"));
        if last_day.is_none() && self.supply.is_none() {
            let sentence = "A solution and a smoke tube have an expiry on their label: give it.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("printed_expiry"));
        }
        if self.opened_life_days.is_some_and(|days| !(1..=OPENED_LIFE_DAYS_MAX).contains(&days)) {
            let sentence =
                format!("The life after opening is 1 to {OPENED_LIFE_DAYS_MAX} days, or left out.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("opened_life_days"));
        }
        let box_number = self.box_lot_number.as_deref().map(|text| number(text, "box_lot_number", SHORT));
        Ok(NewRow {
            id: self.id,
            site_id,
            agent: self.agent.map(|agent| agent.as_str().to_owned()),
            solution: self.solution.map(|solution| solution.as_str().to_owned()),
            supply: self.supply.map(|supply| supply.as_str().to_owned()),
            respirator_id: self.respirator_id,
            lot_number: label.lot_number,
            box_lot_number: box_number.transpose()?,
            gtin: label.gtin,
            label_read: Some(label.read.as_str().to_owned()),
            printed_expiry: label.printed.map(|printed| printed.as_printed().to_owned()),
            expires_on: last_day.transpose()?,
            opened_life_days: self.opened_life_days.and_then(|days| i32::try_from(days).ok()),
            prepared: None,
            happened_at,
        })
    }

    /// Either a solution that there is and that can be bought, or one kind of pieces.
    fn one_kind(&self) -> Result<(), Refusal> {
        let refused = |field, sentence: String| Err(Refusal::new(Code::InvalidValue, sentence).field(field));
        let (agent, solution) = match (self.supply, self.agent, self.solution) {
            (None, Some(agent), Some(solution)) => (agent, solution),
            (Some(kind), None, None) if (kind == PieceKind::Facepiece) == self.respirator_id.is_some() => {
                return Ok(());
            }
            (Some(_), None, None) => {
                let sentence =
                    "Facepieces are of one respirator, and nothing else is: name it for them alone.";
                return refused("respirator_id", sentence.to_owned());
            }
            _ => {
                let sentence = "Say what this is: agent and solution, or what is counted in pieces.";
                return refused("supply", sentence.to_owned());
            }
        };
        let what = format!("{} of {}", solution.name(), agent.name());
        if self.respirator_id.is_some() {
            return refused("respirator_id", format!("The {what} is of no respirator: leave it out."));
        }
        if !agent.has(solution) {
            return refused("solution", format!("There is no {what}."));
        }
        if agent.is_made_in_house(solution) {
            let sentence = format!("The {what} is made in-house and lasts days: record it as a preparation.");
            return refused("solution", sentence);
        }
        Ok(())
    }

    /// What the label says: scanned, or typed twice, because an O for a 0 is found no other way.
    fn label(&self, now: DateTime<Utc>) -> Result<Label, Refusal> {
        if let Some(scanned) = &self.label {
            return self.scanned(scanned, now);
        }
        let typed = self.lot_number.as_deref().unwrap_or_default();
        let lot_number = number(typed, "lot_number", SHORT)?;
        let again = number(self.lot_number_again.as_deref().unwrap_or_default(), "lot_number_again", SHORT)?;
        if lot_number != again {
            let sentence = "The lot number was typed in two ways: read the label once more.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("lot_number_again"));
        }
        let printed = self.printed_expiry.as_deref().map(|text| text.trim().parse()).transpose()?;
        Ok(Label { lot_number, printed, gtin: None, read: LabelReading::TypedTwice })
    }

    /// What a scanner read; whatever else was typed has to say the same.
    fn scanned(&self, text: &str, now: DateTime<Utc>) -> Result<Label, Refusal> {
        let read = gs1::read_label(text, now.year()).map_err(|refusal| refusal.field("label"))?;
        let Some(lot_number) = read.lot_number else {
            let sentence = "This label has no lot number in it: scan the one that has, or type it twice.";
            return Err(Refusal::new(Code::LabelUnreadable, sentence).field("label"));
        };
        for (field, typed) in [("lot_number", &self.lot_number), ("lot_number_again", &self.lot_number_again)]
        {
            if typed.as_deref().is_some_and(|typed| typed.trim() != lot_number) {
                let sentence =
                    format!("The label says {lot_number}: leave what was typed out, or look again.");
                return Err(Refusal::new(Code::InvalidValue, sentence).field(field));
            }
        }
        let typed = self.printed_expiry.as_deref().map(|text| text.trim().parse::<PrintedExpiry>());
        let (scanned, typed) = (read.expiry.map(|expiry| expiry.printed_expiry), typed.transpose()?);
        let differ = scanned.as_ref().zip(typed.as_ref()).is_some_and(|(a, b)| a.last_day() != b.last_day());
        if differ {
            let sentence = "The label says another expiry: leave what was typed out, or look again.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("printed_expiry"));
        }
        let printed = scanned.or(typed);
        Ok(Label { lot_number, printed, gtin: read.gtin, read: LabelReading::Scanned })
    }
}

/// A stop.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotStop {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Whether what may stand on the lot is held as well; it is unless told otherwise.
    #[serde(default)]
    reach: Reach,
    /// Why, in words.
    #[schema(example = "the supplier recalls this lot")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

/// A release.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewLotRelease {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    /// Why, in words.
    #[schema(example = "the supplier recalls this lot")]
    reason: String,
    #[schema(example = "2026-03-10T11:20:00Z")]
    happened_at: DateTime<Utc>,
}

impl NewLotStop {
    fn row(self, (site_id, lot_id): (Uuid, Uuid), now: DateTime<Utc>) -> Result<NewLotMark, Refusal> {
        let release = NewLotRelease { id: self.id, reason: self.reason, happened_at: self.happened_at };
        let mark = release.row((site_id, lot_id), now)?;
        Ok(NewLotMark { mark: "stop".to_owned(), reach: self.reach.stored(), ..mark })
    }
}

impl NewLotRelease {
    fn row(self, (site_id, lot_id): (Uuid, Uuid), now: DateTime<Utc>) -> Result<NewLotMark, Refusal> {
        let happened_at = happened(self.happened_at, now)?;
        let reason = line(&self.reason, "reason", LONG)?;
        let mark = "release".to_owned();
        Ok(NewLotMark { id: self.id, site_id, lot_id, mark, reach: None, reason, happened_at })
    }
}

/// Lots of the site, by id.
#[utoipa::path(tag = "lots", params(PageQuery), responses((status = 200, body = Page<LotView>)))]
#[get("/api/v1/lots")]
pub(crate) async fn list_lots(
    caller: Caller<op::ListLots>,
    page: Query<PageQuery>,
) -> Result<Json<Page<LotView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller
        .read_store(move |conn| {
            let found = lot::list(conn, site_id, window.fetch())?;
            found.into_iter().map(LotView::try_from).collect::<Result<Vec<_>, _>>()
        })
        .await?;
    Ok(Json(Page::of(rows, window, |view| view.id, |view| view)))
}

/// Receives a lot.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 409, description = "The lot is known already, or the id is another's.", body = ProblemBody),
    (status = 422, description = "The expiry cannot be read, or a value cannot be.", body = ProblemBody)
))]
#[post("/api/v1/lots")]
pub(crate) async fn create_lot(
    caller: Caller<op::CreateLot>,
    body: Json<NewLot>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row(caller.site_id(), caller.now)?;
    let made = caller.write(move |tx| lot::create(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}

/// Stops a lot: from now on every station refuses it, and clearances that stand on it are held.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 404, description = "No such lot here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another decision.", body = ProblemBody),
    (status = 422, description = "A reason is needed.", body = ProblemBody)
))]
#[post("/api/v1/lots/{lot_id}/stops")]
pub(crate) async fn create_lot_stop(
    caller: Caller<op::CreateLotStop>,
    lot_id: Path<Uuid>,
    body: Json<NewLotStop>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row((caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot::mark(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}

/// Releases a stopped lot: what was held by the stop alone counts again.
#[utoipa::path(tag = "lots", responses(
    (status = 201, body = LotView),
    (status = 404, description = "No such lot here.", body = ProblemBody),
    (status = 409, description = "The id belongs to another decision.", body = ProblemBody),
    (status = 422, description = "A reason is needed.", body = ProblemBody)
))]
#[post("/api/v1/lots/{lot_id}/releases")]
pub(crate) async fn create_lot_release(
    caller: Caller<op::CreateLotRelease>,
    lot_id: Path<Uuid>,
    body: Json<NewLotRelease>,
) -> Result<HttpResponse, Problem> {
    let new = body.into_inner().row((caller.site_id(), *lot_id), caller.now)?;
    let made = caller.write(move |tx| lot::mark(tx, &new)).await?;
    Ok(HttpResponse::Created().json(LotView::try_from(made)?))
}
