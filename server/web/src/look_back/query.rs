//! What a look-back is asked about.

use chrono::{DateTime, Utc};
use sellion_rules::{
    look_back::{Certainty, Span},
    refusal::{Code, Refusal},
};
use sellion_store::look_back::Asked;
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use crate::stop::span;

/// What is asked about: exactly one thing.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SubjectQuery {
    /// A lot.
    lot_id: Option<Uuid>,
    /// A bottle.
    bottle_id: Option<Uuid>,
    /// One filling of a nebulizer.
    fill_id: Option<Uuid>,
    /// A nebulizer or a hood.
    equipment_id: Option<Uuid>,
    /// A user who tests.
    tester_id: Option<Uuid>,
    /// A station; then `from` and `until` are needed.
    station_id: Option<Uuid>,
    /// The first moment, for a nebulizer, a hood, a tester or a station.
    #[param(example = "2026-03-10T09:00:00Z")]
    from: Option<DateTime<Utc>>,
    /// The first moment after it.
    #[param(example = "2026-03-10T11:00:00Z")]
    until: Option<DateTime<Utc>>,
}

/// Which of the lists.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ListQuery {
    /// Only people of this list; all of them unless told.
    pub(crate) certainty: Option<Certainty>,
}

impl SubjectQuery {
    /// The one thing that is named.
    pub(crate) fn asked(&self) -> Result<Asked, Refusal> {
        let timed = self.lot_id.or(self.bottle_id).or(self.fill_id).is_none();
        let (from, until) = span(self.from, self.until, timed, self.station_id.is_some())?;
        let span = Span { from, until };
        let named = [
            self.lot_id.map(Asked::Lot),
            self.bottle_id.map(Asked::Bottle),
            self.fill_id.map(Asked::Fill),
            self.equipment_id.map(|id| Asked::Equipment(id, span)),
            self.tester_id.map(|id| Asked::Tester(id, span)),
            self.station_id.map(|id| Asked::Station(id, span)),
        ];
        let mut named = named.into_iter().flatten();
        match (named.next(), named.next()) {
            (Some(one), None) => Ok(one),
            _ => {
                let sentence =
                    "Name one thing: a lot, a bottle, a fill, a nebulizer or hood, a tester, or a station.";
                Err(Refusal::new(Code::InvalidValue, sentence).field("lot_id"))
            }
        }
    }
}
