//! Lots: receiving them by what their label says, and finding them.

use actix_web::{
    HttpResponse, get, post,
    web::{Json, Query},
};
use chrono::{DateTime, Datelike, NaiveDate, Utc};
use sellion_rules::{
    gs1,
    printed_expiry::PrintedExpiry,
    refusal::{Code, Refusal},
    roles::op,
    supplies::{Agent, LabelReading, PieceKind, Solution},
};
use sellion_store::{
    StoreError,
    lot::{self, Lot, NewLot as NewRow},
};
use serde::{Deserialize, Serialize};
use serde_json::from_value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    extract::{happened, plausible},
    page::{Page, PageQuery},
    parameters::SearchQuery,
    preparation::Prepared,
    problem::{Problem, ProblemBody},
    words::{SHORT, line, number},
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
    /// Who made it; none of what was received before anybody asked, and of what was made in-house.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "Brenning Optics")]
    maker: Option<String>,
    /// The trade item number, where the label has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    gtin: Option<String>,
    /// How many pieces or bottles the scanned label of the box counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 12)]
    box_count: Option<i32>,
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
            maker: lot.maker,
            gtin: lot.gtin,
            box_count: lot.box_count,
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
    /// Who made it. Left out of facepieces it is the make of the respirator; where a label was scanned whose trade item
    /// number is known, it is the maker known for that.
    #[schema(example = "Brenning Optics")]
    maker: Option<String>,
    /// As printed, the year with all four digits: a day, or a month whose last day is meant. Left out where the label
    /// was scanned and has it; pieces may have none.
    #[schema(example = "AUG 2027")]
    printed_expiry: Option<String>,
    /// The expiry typed a second time, without looking at the first; left out where the label was scanned and has it.
    #[schema(example = "AUG 2027")]
    printed_expiry_again: Option<String>,
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
    count: Option<u32>,
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
        let maker = self.maker.as_deref().map(|text| line(text, "maker", SHORT)).transpose()?;
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
            maker,
            gtin: label.gtin,
            box_count: label.count.and_then(|count| i32::try_from(count).ok()).filter(|count| *count > 0),
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
        let printed = self.typed_expiry()?;
        Ok(Label { lot_number, printed, gtin: None, count: None, read: LabelReading::TypedTwice })
    }

    /// The expiry as it was typed: twice, and the same day both times.
    fn typed_expiry(&self) -> Result<Option<PrintedExpiry>, Refusal> {
        let read = |text: &Option<String>| text.as_deref().map(|text| text.trim().parse::<PrintedExpiry>());
        let Some(once) = read(&self.printed_expiry).transpose()? else { return Ok(None) };
        plausible(once.last_day(), "printed_expiry")?;
        let again = read(&self.printed_expiry_again).transpose();
        let again = again.map_err(|refusal| refusal.field("printed_expiry_again"))?;
        let Some(again) = again else {
            let sentence = "Type the expiry a second time, without looking at the first.";
            return Err(Refusal::new(Code::InvalidValue, sentence).field("printed_expiry_again"));
        };
        if once.last_day() != again.last_day() {
            let sentence = format!(
                "The expiry was typed in two ways, {} and {}: read the label once more.",
                once.last_day(),
                again.last_day()
            );
            return Err(Refusal::new(Code::InvalidValue, sentence).field("printed_expiry_again"));
        }
        Ok(Some(once))
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
        let scanned = read.expiry.map(|expiry| expiry.printed_expiry);
        let printed = match (&scanned, &self.printed_expiry) {
            (Some(scanned), Some(typed)) => {
                if typed.trim().parse::<PrintedExpiry>()?.last_day() != scanned.last_day() {
                    let sentence = "The label says another expiry: leave what was typed out, or look again.";
                    return Err(Refusal::new(Code::InvalidValue, sentence).field("printed_expiry"));
                }
                Some(scanned.clone())
            }
            (Some(scanned), None) => Some(scanned.clone()),
            (None, _) => self.typed_expiry()?,
        };
        Ok(Label { lot_number, printed, gtin: read.gtin, count: read.count, read: LabelReading::Scanned })
    }
}

/// Lots of the site, by id; with `q`, those that have that text in a number or in the maker.
#[utoipa::path(tag = "lots", params(SearchQuery, PageQuery), responses((status = 200, body = Page<LotView>)))]
#[get("/api/v1/lots")]
pub(crate) async fn list_lots(
    caller: Caller<op::ListLots>,
    search: Query<SearchQuery>,
    page: Query<PageQuery>,
) -> Result<Json<Page<LotView>>, Problem> {
    let (site_id, window, text) = (caller.site_id(), page.window()?, search.text()?);
    let rows = caller
        .read_store(move |conn| {
            let found = lot::list(conn, site_id, text.as_deref(), window.fetch())?;
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
