//! How bodies are read: their limits, and which times and dates can be meant.

use std::ops::RangeInclusive;

use actix_web::web::{JsonConfig, PathConfig, PayloadConfig, QueryConfig, ServiceConfig};
use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};
use sellion_rules::refusal::{Code, Refusal};

/// The largest JSON body: a batch of events is far smaller.
pub(crate) const JSON_BYTES_MAX: usize = 256 * 1024;
/// The largest roster file.
pub(crate) const ROSTER_BYTES_MAX: usize = 64 * 1024 * 1024;
/// Years that a date or a moment can be of: nobody who is tested was born before, and nothing is planned for later.
pub(crate) const YEARS: RangeInclusive<i32> = 1900..=2199;
/// How far a device's clock may run ahead of ours before its facts are refused.
const AHEAD_SECONDS_MAX: i64 = 120;

/// Limits for all handlers. The errors keep their own types: the envelope knows what to make of them.
pub(crate) fn configure(config: &mut ServiceConfig) {
    config
        .app_data(JsonConfig::default().limit(JSON_BYTES_MAX))
        .app_data(PayloadConfig::default().limit(ROSTER_BYTES_MAX))
        // By default the path's error arrives wrapped, and the envelope would not know it.
        .app_data(PathConfig::default().error_handler(|error, _| error.into()))
        .app_data(QueryConfig::default());
}

/// The time a fact happened, in the whole microseconds that the database keeps, so that a repeat is recognised;
/// refused when it lies ahead of the server's clock.
pub(crate) fn happened(at: DateTime<Utc>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Refusal> {
    if at > now + TimeDelta::seconds(AHEAD_SECONDS_MAX) {
        let sentence = "This time lies in the future: set the device's clock, then send it again.";
        return Err(Refusal::new(Code::HappenedInFuture, sentence)
            .field("happened_at")
            .fact("server_time", now));
    }
    moment(at, "happened_at")
}

/// A moment in the whole microseconds that the database keeps; refused when its year cannot be meant. A leap second
/// (`:60`), which the database does not know, is the second after it, as in Unix time.
pub(crate) fn moment(at: DateTime<Utc>, field: &'static str) -> Result<DateTime<Utc>, Refusal> {
    plausible(at.date_naive(), field)?;
    Ok(DateTime::from_timestamp_micros(at.timestamp_micros()).unwrap_or(at))
}

/// A date of a year that can be meant, so that a slip such as 0205 or 20205 is caught where it is made.
pub(crate) fn plausible(date: NaiveDate, field: &'static str) -> Result<NaiveDate, Refusal> {
    if YEARS.contains(&date.year()) {
        return Ok(date);
    }
    let sentence = "This year cannot be meant: give a date between 1900-01-01 and 2199-12-31.";
    Err(Refusal::new(Code::InvalidValue, sentence).field(field))
}
