//! What is asked about, by its id.

use diesel::{PgConnection, dsl::exists, prelude::*, select};
use sellion_rules::look_back::Span;
use uuid::Uuid;

use crate::{
    StoreError,
    schema::{bottles, equipment, fills, lots, stations, users},
};

/// What is in doubt, by its id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// A lot, of a solution or of nebulizers or hoods.
    Lot(Uuid),
    /// A bottle.
    Bottle(Uuid),
    /// A filling of a nebulizer.
    Fill(Uuid),
    /// A nebulizer or a hood, for a time.
    Equipment(Uuid, Span),
    /// Who ran screenings and attempts, for a time.
    Tester(Uuid, Span),
    /// A station, for a time.
    Station(Uuid, Span),
}

impl Asked {
    /// Not found unless it is of the site.
    pub(super) fn known(self, conn: &mut PgConnection, site_id: Uuid) -> Result<(), StoreError> {
        macro_rules! found {
            ($table:ident, $id:expr) => {
                select(exists($table::table.find($id).filter($table::site_id.eq(site_id))))
                    .get_result(conn)?
            };
        }
        let (found, noun): (bool, &str) = match self {
            Self::Lot(id) => (found!(lots, id), "lot"),
            Self::Bottle(id) => (found!(bottles, id), "bottle"),
            Self::Fill(id) => (found!(fills, id), "fill"),
            Self::Equipment(id, _) => (found!(equipment, id), "nebulizer or hood"),
            Self::Tester(id, _) => (found!(users, id), "user"),
            Self::Station(id, _) => (found!(stations, id), "station"),
        };
        if found { Ok(()) } else { Err(StoreError::not_found(noun)) }
    }
}
