//! Places: storerooms and stations, and what is at each.

use actix_web::{
    HttpResponse, get, patch, post,
    web::{Json, Path, Query},
};
use chrono::{DateTime, Utc};
use sellion_rules::roles::op;
use sellion_store::{
    balance, bottle, equipment, lot,
    place::{self, FILLING_POINT, NewPlace as NewRow, Place, StoreroomChange},
    placement::Placed,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::Caller,
    bottle::BottleView,
    equipment::EquipmentView,
    judge::Judge,
    lot::LotView,
    page::{Page, PageQuery},
    problem::{Problem, ProblemBody},
    version::{IfMatch, with_etag},
    words::{SHORT, line},
};

/// Where something is.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct PlaceName {
    id: Uuid,
    #[schema(example = "Storeroom")]
    name: String,
    /// Whether it is a station.
    station: bool,
    /// Whether nebulizers of any station are filled there.
    filling_point: bool,
    /// Since when it is there.
    since: DateTime<Utc>,
}

impl From<Placed> for PlaceName {
    fn from(Placed { place, since }: Placed) -> Self {
        let (station, filling_point) = (place.station_id.is_some(), place.is_filling_point());
        Self { id: place.id, name: place.name, station, filling_point, since }
    }
}

/// Where supplies are: a storeroom, or a station under the station's own id.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlaceView {
    id: Uuid,
    #[schema(example = "Storeroom")]
    name: String,
    /// The station it is; absent for a storeroom.
    #[serde(skip_serializing_if = "Option::is_none")]
    station_id: Option<Uuid>,
    /// Whether nebulizers of any station are filled there.
    filling_point: bool,
    /// Counts the changes; also sent as `ETag`.
    #[schema(example = 1)]
    version: i32,
    created_at: DateTime<Utc>,
}

impl From<Place> for PlaceView {
    fn from(place: Place) -> Self {
        let (filling_point, version) = (place.is_filling_point(), place.version());
        let Place { id, name, station_id, created_at, .. } = place;
        Self { id, name, station_id, filling_point, version, created_at }
    }
}

/// A storeroom to be set up.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPlace {
    /// Made by the client: a UUIDv7, the same on a repeat.
    id: Uuid,
    #[schema(example = "Cupboard of the assembly hall")]
    name: String,
    /// Whether nebulizers of any station are filled there: what comes there is issued, in the order in which it ends.
    #[serde(default)]
    filling_point: bool,
}

/// What may change about a storeroom; members left out stay as they are.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlacePatch {
    #[schema(example = "Cupboard beside the assembly hall")]
    name: Option<String>,
    /// Whether nebulizers of any station are filled there.
    filling_point: Option<bool>,
}

/// Pieces of one lot at one place.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PiecesAt {
    lot: LotView,
    /// What is there by the books; below zero where more was recorded as taken than was there.
    #[schema(example = 40)]
    on_hand: i64,
}

/// What is at a place now, the first to end first.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlaceStock {
    place: PlaceView,
    /// In the order in which they end: the first is the one to take.
    bottles: Vec<BottleView>,
    equipment: Vec<EquipmentView>,
    pieces: Vec<PiecesAt>,
}

/// Places of the site, by id.
#[utoipa::path(tag = "places", params(PageQuery), responses((status = 200, body = Page<PlaceView>)))]
#[get("/api/v1/places")]
pub(crate) async fn list_places(
    caller: Caller<op::ListPlaces>,
    page: Query<PageQuery>,
) -> Result<Json<Page<PlaceView>>, Problem> {
    let (site_id, window) = (caller.site_id(), page.window()?);
    let rows = caller.read_store(move |conn| place::list(conn, site_id, window.fetch())).await?;
    Ok(Json(Page::of(rows, window, |place| place.id, PlaceView::from)))
}

/// Sets up a storeroom. Stations are places by themselves.
#[utoipa::path(tag = "places", responses(
    (status = 201, body = PlaceView),
    (status = 409, description = "There is a storeroom of this name, or the id is another's.", body = ProblemBody),
    (status = 422, description = "The name cannot be.", body = ProblemBody)
))]
#[post("/api/v1/places")]
pub(crate) async fn create_place(
    caller: Caller<op::CreatePlace>,
    body: Json<NewPlace>,
) -> Result<HttpResponse, Problem> {
    let NewPlace { id, name, filling_point } = body.into_inner();
    let name = line(&name, "name", SHORT)?;
    let purpose = filling_point.then(|| FILLING_POINT.to_owned());
    let new = NewRow { id, site_id: caller.site_id(), station_id: None, name, purpose };
    let made = caller.write(move |tx| place::create(tx, &new)).await?;
    Ok(with_etag(HttpResponse::Created(), made.version()).json(PlaceView::from(made)))
}

/// Changes a storeroom. The place that a station is changes with the station.
#[utoipa::path(tag = "places", params(IfMatch), responses(
    (status = 200, body = PlaceView),
    (status = 404, description = "No such place here.", body = ProblemBody),
    (status = 409, description = "Somebody changed it meanwhile, or another has the name.", body = ProblemBody),
    (status = 422, description = "The name cannot be, or the place is a station.", body = ProblemBody)
))]
#[patch("/api/v1/places/{place_id}")]
pub(crate) async fn update_place(
    caller: Caller<op::UpdatePlace>,
    place_id: Path<Uuid>,
    version: IfMatch,
    body: Json<PlacePatch>,
) -> Result<HttpResponse, Problem> {
    let PlacePatch { name, filling_point } = body.into_inner();
    let name = name.map(|name| line(&name, "name", SHORT)).transpose()?;
    let (id, change) = (*place_id, StoreroomChange { name, filling_point });
    let place = caller.write(move |tx| place::update(tx, id, version.0, &change)).await?;
    Ok(with_etag(HttpResponse::Ok(), place.version()).json(PlaceView::from(place)))
}

/// What is at a place now: bottles, nebulizers and hoods, and pieces.
#[utoipa::path(tag = "places", responses(
    (status = 200, body = PlaceStock),
    (status = 404, description = "No such place here.", body = ProblemBody)
))]
#[get("/api/v1/places/{place_id}/stock")]
pub(crate) async fn read_place_stock(
    caller: Caller<op::ReadPlaceStock>,
    place_id: Path<Uuid>,
) -> Result<Json<PlaceStock>, Problem> {
    let (site_id, id, now) = (caller.site_id(), *place_id, caller.now);
    let stock = caller
        .read_store(move |conn| {
            let place = place::find(conn, site_id, id)?;
            let judge = Judge::of_site(conn, site_id, now)?;
            let mut supplies = bottle::at_place(conn, site_id, id)?;
            supplies.sort_by_key(|supply| (supply.lot.expires_on, supply.bottle.label.clone()));
            let bottles = supplies
                .into_iter()
                .map(|supply| BottleView::judged(&judge, supply))
                .collect::<Result<_, _>>()?;
            let found = equipment::at_place(conn, site_id, id, now)?;
            let mut pieces = Vec::new();
            for here in balance::pieces_at(conn, id)? {
                let lot = LotView::try_from(lot::find(conn, site_id, here.lot_id)?)?;
                pieces.push(PiecesAt { lot, on_hand: here.on_hand });
            }
            let equipment = found.into_iter().map(EquipmentView::try_from).collect::<Result<_, _>>()?;
            Ok(PlaceStock { place: place.into(), bottles, equipment, pieces })
        })
        .await?;
    Ok(Json(stock))
}
