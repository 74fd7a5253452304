//! How bodies are read: their limits, and times that lie in the future.

use actix_web::web::{JsonConfig, PathConfig, PayloadConfig, QueryConfig, ServiceConfig};
use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::refusal::{Code, Refusal};

/// The largest JSON body: a batch of events is far smaller.
pub(crate) const JSON_BYTES_MAX: usize = 256 * 1024;
/// The largest roster file.
pub(crate) const ROSTER_BYTES_MAX: usize = 64 * 1024 * 1024;
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
    Ok(kept(at))
}

/// A moment in the whole microseconds that the database keeps. A leap second (`:60`), which the database does not know,
/// is the second after it, as in Unix time.
pub(crate) fn kept(at: DateTime<Utc>) -> DateTime<Utc> {
    DateTime::from_timestamp_micros(at.timestamp_micros()).unwrap_or(at)
}
