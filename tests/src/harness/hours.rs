//! Tests that need a midnight at the site: the clock is shifted to just before it.

use chrono::{DateTime, Days, TimeDelta, Utc};
use chrono_tz::Europe::Lisbon;

use super::Hospital;

/// Shifts the clock to three minutes before the next midnight at the site, and says what it tells then.
///
/// # Panics
/// When the site's zone has no such midnight.
#[must_use]
pub fn before_midnight(hospital: &Hospital) -> DateTime<Utc> {
    let today = hospital.now().with_timezone(&Lisbon).date_naive();
    let tomorrow = today.checked_add_days(Days::new(1)).and_then(|day| day.and_hms_opt(0, 0, 0));
    let midnight = tomorrow.and_then(|at| at.and_local_timezone(Lisbon).earliest()).expect("a midnight");
    let moment = midnight.with_timezone(&Utc) - TimeDelta::minutes(3);
    hospital.clock.shift(moment - hospital.now());
    moment
}
