//! Days and moments: due dates, ends of local days, printed expiries, and arithmetic that cannot overflow.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Days, Months, NaiveDate, NaiveTime, Offset, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

use crate::refusal::{Code, Refusal};
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

/// An expiry as it stands on a label: a day, or a month whose last day is meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct PrintedExpiry {
    printed: String,
    last_day: NaiveDate,
}

impl PrintedExpiry {
    /// The text on the label, as printed.
    pub fn as_printed(&self) -> &str {
        &self.printed
    }

    /// The last day of use that it names.
    pub fn last_day(&self) -> NaiveDate {
        self.last_day
    }

    /// An expiry of a year from 0 to 9999, a month from 1 and a day, or of a month whose last day is meant; none where
    /// the calendar has no such day.
    pub fn of(year: i32, month: u32, day: Option<u32>) -> Option<Self> {
        if !(0..=9999).contains(&year) {
            return None;
        }
        let (printed, last_day) = match day {
            None => (format!("{year:04}-{month:02}"), last_day_of_month(year, month)?),
            Some(day) => {
                (format!("{year:04}-{month:02}-{day:02}"), NaiveDate::from_ymd_opt(year, month, day)?)
            }
        };
        Some(Self { printed, last_day })
    }
}

impl FromStr for PrintedExpiry {
    type Err = Refusal;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let refusal = || {
            let detail =
                format!("Write the expiry as printed, as 2027-08 or 2027-08-15; \"{text}\" is neither.");
            Refusal::new(Code::InvalidValue, detail).field("printed_expiry")
        };
        let digits = |part: &str, width: usize| {
            let plain = part.len() == width && part.bytes().all(|byte| byte.is_ascii_digit());
            if plain { part.parse::<u32>().ok() } else { None }
        };
        let mut parts = text.split('-');
        let year = parts.next().and_then(|part| digits(part, 4)).and_then(|year| i32::try_from(year).ok());
        let month = parts.next().and_then(|part| digits(part, 2));
        let (Some(year), Some(month)) = (year, month) else { return Err(refusal()) };
        let day = match parts.next() {
            None => None,
            Some(part) => Some(digits(part, 2).ok_or_else(refusal)?),
        };
        if parts.next().is_some() {
            return Err(refusal());
        }
        Self::of(year, month, day).ok_or_else(refusal)
    }
}

fn last_day_of_month(year: i32, month: u32) -> Option<NaiveDate> {
    NaiveDate::from_ymd_opt(year, month, 1)?.checked_add_months(Months::new(1))?.pred_opt()
}

impl fmt::Display for PrintedExpiry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.printed)
    }
}

impl From<PrintedExpiry> for String {
    fn from(expiry: PrintedExpiry) -> Self {
        expiry.printed
    }
}

impl TryFrom<String> for PrintedExpiry {
    type Error = Refusal;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

#[cfg(feature = "openapi")]
mod schema {
    use utoipa::openapi::schema::{ObjectBuilder, Type};
    use utoipa::openapi::{RefOr, Schema};

    use super::PrintedExpiry;

    impl utoipa::PartialSchema for PrintedExpiry {
        fn schema() -> RefOr<Schema> {
            ObjectBuilder::new()
                .schema_type(Type::String)
                .description(Some("An expiry as printed on the label: 2027-08 means its last day"))
                .pattern(Some(r"^\d{4}-\d{2}(-\d{2})?$"))
                .into()
        }
    }

    impl utoipa::ToSchema for PrintedExpiry {}
}
