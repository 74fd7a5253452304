//! Hours of the site's day. Tests begin in the afternoon whenever they are run, so that what they did hours ago was
//! today; those that need a midnight go there.

use std::sync::OnceLock;

use chrono::{DateTime, Days, NaiveTime, TimeDelta, Utc};
use chrono_tz::Europe::Lisbon;
use sellion_web::Clock;

use super::Hospital;

/// A clock that told three in the afternoon at the site when the first one of this process was made. It is never behind
/// the database's, which dates what tests add to it directly.
///
/// # Panics
/// When the site's zone has no such hour.
#[must_use]
pub fn afternoon() -> Clock {
    static AHEAD: OnceLock<TimeDelta> = OnceLock::new();
    let clock = Clock::default();
    let ahead = AHEAD.get_or_init(|| {
        let now = clock.now();
        let days = (0..2).map(|days| at_site(now, days, NaiveTime::from_hms_opt(15, 0, 0)) - now);
        days.min_by_key(|ahead| (*ahead < TimeDelta::zero(), *ahead)).expect("an afternoon")
    });
    clock.shift(*ahead);
    clock
}

/// Shifts the clock to three minutes before the next midnight at the site, and says what it tells then.
///
/// # Panics
/// When the site's zone has no such midnight.
#[must_use]
pub fn before_midnight(hospital: &Hospital) -> DateTime<Utc> {
    let moment = at_site(hospital.now(), 1, Some(NaiveTime::MIN)) - TimeDelta::minutes(3);
    hospital.clock.shift(moment - hospital.now());
    moment
}

/// This time of day at the site, so many days after the day of `from`.
fn at_site(from: DateTime<Utc>, days: u64, time: Option<NaiveTime>) -> DateTime<Utc> {
    let day = from.with_timezone(&Lisbon).date_naive().checked_add_days(Days::new(days));
    let at = day.zip(time).and_then(|(day, time)| day.and_time(time).and_local_timezone(Lisbon).earliest());
    at.expect("an hour of the site's day").with_timezone(&Utc)
}
