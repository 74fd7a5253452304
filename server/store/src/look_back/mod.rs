//! Look-back: who stands on a lot, a bottle, a fill, a nebulizer, a hood, a tester or a time at a station.
//!
//! Whatever is asked, the cost goes with what was in use together with it: its fillings, the stations of those, and the
//! runs there. The rules judge each run; this module finds the runs and the facts.

mod asked;
mod doubts;
mod fillings;
mod follow;
mod found;
mod gaps;
mod in_use;
mod people;
mod places;
mod reading;
mod rows;
mod subjects;

use diesel::PgConnection;
use uuid::Uuid;

use crate::StoreError;

pub use asked::Asked;
pub(crate) use doubts::doubts;
pub(crate) use follow::{after_gap, after_stop, mixed_up};
pub use follow::{placed, refilled, rinsed};
pub use found::{Judged, LookBack, PersonFound, Totals, look_back};
pub use people::{BadgeHeld, ClearanceDoubt, GateEntries, PersonDetail, details};
pub use places::{Holding, PlaceHeld, Standing, StationUse, holdings, stations_used, words_for};
pub use reading::{Form, note_reading};
pub use rows::RunKind;

/// Whether what is asked about is of the site.
pub fn known(conn: &mut PgConnection, site_id: Uuid, asked: &Asked) -> Result<(), StoreError> {
    asked.known(conn, site_id)
}
