//! Days and moments: due dates, ends of local days, and arithmetic that cannot overflow.

use chrono::{DateTime, Days, Months, NaiveDate, NaiveTime, Offset, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use crate::text_enum::text_enum;

text_enum! {
    /// How "yearly" is read. The rule says "at least annually" and no more (29 CFR 1910.134(f)(2)).
    pub enum DueReading {
        /// The same calendar day; from 29 February to 28 February.
        Anniversary = "anniversary",
        /// A fixed number of days.
        StrictDays = "strict_days",
        /// Whichever of the two comes first.
        Earlier = "earlier",
    }
}

/// The time from a test to the day by which the next one is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Interval {
    /// Calendar months, for the anniversary.
    pub months: u32,
    /// Days, for the strict reading.
    pub strict_days: u32,
}

/// The due day under each reading, and the one that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct DueDates {
    /// Last covered day by the calendar.
    pub anniversary: NaiveDate,
    /// Last covered day by counting days.
    pub strict_days: NaiveDate,
    /// The one the rule set chooses.
    pub due_on: NaiveDate,
}

/// The last day a test on `test_date` covers, under both readings.
pub fn due_dates(test_date: NaiveDate, interval: Interval, reading: DueReading) -> DueDates {
    let anniversary = test_date.checked_add_months(Months::new(interval.months)).unwrap_or(NaiveDate::MAX);
    let strict_days = days_after(test_date, interval.strict_days);
    let due_on = match reading {
        DueReading::Anniversary => anniversary,
        DueReading::StrictDays => strict_days,
        DueReading::Earlier => anniversary.min(strict_days),
    };
    DueDates { anniversary, strict_days, due_on }
}

/// The last day a test on `test_date` covers.
pub fn due_on(test_date: NaiveDate, interval: Interval, reading: DueReading) -> NaiveDate {
    due_dates(test_date, interval, reading).due_on
}

/// `date` and `days` more, or the last date there is.
pub fn days_after(date: NaiveDate, days: u32) -> NaiveDate {
    date.checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX)
}

/// The first moment after the local day `date`, which is the exclusive end of everything valid "through" it.
pub fn end_of_day(date: NaiveDate, tz: Tz) -> DateTime<Utc> {
    date.succ_opt().map_or(DateTime::<Utc>::MAX_UTC, |next| start_of_day(next, tz))
}

/// The first moment of the local day `date`.
///
/// Where a clock change skips midnight, the day begins at the first moment that exists; where midnight happens twice,
/// at the first of the two.
pub fn start_of_day(date: NaiveDate, tz: Tz) -> DateTime<Utc> {
    let midnight = date.and_time(NaiveTime::MIN);
    if let Some(start) = tz.from_local_datetime(&midnight).earliest() {
        return start.with_timezone(&Utc);
    }
    // Midnight does not exist. The offset before the gap, applied to the missing midnight, names the very moment at
    // which the clock jumped, and that moment is the first of the new day.
    let before = midnight.checked_sub_signed(TimeDelta::hours(24)).unwrap_or(midnight);
    let offset = tz.offset_from_local_datetime(&before).earliest().map_or(0, |o| o.fix().local_minus_utc());
    let jump = midnight.checked_sub_signed(TimeDelta::seconds(i64::from(offset))).unwrap_or(midnight);
    jump.and_utc()
}

/// The calendar day at `at` in the zone.
pub fn local_date(at: DateTime<Utc>, tz: Tz) -> NaiveDate {
    let offset = tz.offset_from_utc_datetime(&at.naive_utc()).fix().local_minus_utc();
    at.naive_utc()
        .checked_add_signed(TimeDelta::seconds(i64::from(offset)))
        .map_or_else(|| at.naive_utc().date(), |local| local.date())
}

/// `at` and `seconds` more, or the last moment there is.
pub fn seconds_after(at: DateTime<Utc>, seconds: u32) -> DateTime<Utc> {
    at.checked_add_signed(TimeDelta::seconds(i64::from(seconds))).unwrap_or(DateTime::<Utc>::MAX_UTC)
}

/// `at` less `seconds`, or the first moment there is.
pub fn seconds_before(at: DateTime<Utc>, seconds: u32) -> DateTime<Utc> {
    at.checked_sub_signed(TimeDelta::seconds(i64::from(seconds))).unwrap_or(DateTime::<Utc>::MIN_UTC)
}

/// Whole seconds from `now` until `then`, rounded up so that waiting them is always enough; 0 when it has passed.
pub fn seconds_until(now: DateTime<Utc>, then: DateTime<Utc>) -> i64 {
    let left = then.signed_duration_since(now);
    let whole = left.num_seconds();
    let rounded = if left.subsec_nanos() > 0 { whole.saturating_add(1) } else { whole };
    rounded.max(0)
}

/// Whole seconds that have passed from `then` until `now`; 0 when `then` lies ahead.
pub fn seconds_since(then: DateTime<Utc>, now: DateTime<Utc>) -> u32 {
    u32::try_from(now.signed_duration_since(then).num_seconds().max(0)).unwrap_or(u32::MAX)
}
