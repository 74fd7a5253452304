//! What a recorded exchange looks like to a reader: plain ids, times of one example day, and no secrets.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, SecondsFormat, SubsecRound, TimeDelta, Utc};
use serde_json::Value;
use uuid::{Builder, Uuid};

/// When every recorded exchange takes place.
const EXAMPLE_NOW: &str = "2026-03-10T08:00:00Z";

/// Dates further from today than this have nothing to do with the day of the recording: dates of birth, for one.
const NEAR_DAYS: i64 = 1100;

/// Members that must not be shown, each with what is shown instead.
const SECRETS: [(&str, &str); 2] = [("password", "an example pass phrase"), ("token", "an.example.token")];

/// Replaces what differs from one recording to the next, the same thing by the same thing throughout one exchange.
pub(super) struct Plain {
    now: DateTime<Utc>,
    example_now: DateTime<Utc>,
    ids: HashMap<Uuid, Uuid>,
}

impl Default for Plain {
    fn default() -> Self {
        Self {
            now: super::hours::afternoon().now(),
            example_now: EXAMPLE_NOW.parse().expect("a time"),
            ids: HashMap::new(),
        }
    }
}

impl Plain {
    /// A path with its query.
    pub(super) fn path(&mut self, path: &str) -> String {
        let Some((path, query)) = path.split_once('?') else { return self.text(path) };
        let pairs: Vec<String> = query
            .split('&')
            .filter(|pair| !pair.is_empty())
            .map(|pair| match pair.split_once('=') {
                Some((name, value)) => format!("{name}={}", self.text(value)),
                None => pair.to_owned(),
            })
            .collect();
        let mark = if pairs.is_empty() { "" } else { "?" };
        format!("{}{mark}{}", self.text(path), pairs.join("&"))
    }

    /// A body.
    pub(super) fn value(&mut self, value: Value) -> Value {
        match value {
            Value::String(text) => Value::String(self.text(&text)),
            Value::Array(items) => items.into_iter().map(|item| self.value(item)).collect(),
            Value::Object(members) => members
                .into_iter()
                .map(|(name, value)| match SECRETS.iter().find(|(secret, _)| *secret == name) {
                    Some((_, shown)) if value.is_string() => (name, Value::from(*shown)),
                    _ => (name, self.value(value)),
                })
                .collect(),
            other => other,
        }
    }

    fn text(&mut self, text: &str) -> String {
        if let Ok(time) = text.parse::<DateTime<Utc>>() {
            return self.time(time).to_rfc3339_opts(SecondsFormat::Secs, true);
        }
        if let Ok(date) = text.parse::<NaiveDate>() {
            return self.date(date).to_string();
        }
        self.words(text)
    }

    /// As long before or after the example's now as it was before or after the real one. A time at midnight is the end
    /// of a date and moves with the dates.
    fn time(&self, time: DateTime<Utc>) -> DateTime<Utc> {
        if time.time() == chrono::NaiveTime::MIN {
            return time + self.days();
        }
        // Up to a whole second: the fractions of one that the calls before took differ from run to run.
        (self.example_now + (time - self.now) + TimeDelta::milliseconds(999)).trunc_subsecs(0)
    }

    fn date(&self, date: NaiveDate) -> NaiveDate {
        let near = (date - self.now.date_naive()).abs() <= TimeDelta::days(NEAR_DAYS);
        if near { date + self.days() } else { date }
    }

    fn days(&self) -> TimeDelta {
        self.example_now.date_naive() - self.now.date_naive()
    }

    /// Every id and date in a text. An id without hyphens is part of a name that the tests made up, where a number
    /// reads better.
    fn words(&mut self, text: &str) -> String {
        let mut made = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(next) = rest.chars().next() {
            if let Some((id, length)) = id_at(rest) {
                let plain = self.id(id);
                let number = plain.as_u128() & u128::from(u16::MAX);
                let shown = if length == 32 { format!("{number:04}") } else { plain.to_string() };
                made.push_str(&shown);
                rest = &rest[length..];
            } else if let Some(date) = date_at(rest) {
                made.push_str(&self.date(date).to_string());
                rest = &rest[10..];
            } else {
                // A longer run of hexadecimal digits, such as a digest, holds no id.
                let run = rest.find(|c: char| !c.is_ascii_hexdigit()).unwrap_or(rest.len());
                let passed = run.max(next.len_utf8());
                made.push_str(&rest[..passed]);
                rest = &rest[passed..];
            }
        }
        made
    }

    fn id(&mut self, id: Uuid) -> Uuid {
        let number = self.ids.len() + 1;
        let millis = u64::try_from(self.example_now.timestamp_millis()).expect("a time after 1970");
        *self.ids.entry(id).or_insert_with(|| {
            let mut bytes = [0; 10];
            bytes[2..].copy_from_slice(&(number as u64).to_be_bytes());
            Builder::from_unix_timestamp_millis(millis, &bytes).into_uuid()
        })
    }
}

/// The date that a text begins with. Parsing alone would also take fewer digits and a space before them.
fn date_at(text: &str) -> Option<NaiveDate> {
    let date = text.get(..10)?;
    date.parse().ok().filter(|parsed: &NaiveDate| parsed.to_string() == date)
}

/// The id that a text begins with, and how long it is.
fn id_at(text: &str) -> Option<(Uuid, usize)> {
    [36, 32].into_iter().find_map(|length| {
        let id = text.get(..length)?;
        let ends = !text[length..].starts_with(|c: char| c.is_ascii_hexdigit());
        let hex = id.bytes().all(|byte| byte.is_ascii_hexdigit() || byte == b'-');
        Uuid::try_parse(id).ok().filter(|_| ends && hex).map(|id| (id, length))
    })
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn the_same_id_becomes_the_same_plain_one_and_digests_stay() {
        let id = Uuid::now_v7();
        let digest = "0a".repeat(32);
        let mut plain = Plain::default();
        let path = plain.path(&format!("/api/v1/people/{id}/badges?person_id={id}&limit=2"));
        let body =
            plain.value(json!({ "id": id, "user": format!("user-{}", id.simple()), "digest": digest }));
        let first = "019cd6c2-8c00-7000-8000-000000000001";
        assert_eq!(path, format!("/api/v1/people/{first}/badges?person_id={first}&limit=2"));
        assert_eq!(body["id"], first);
        assert_eq!(body["user"], "user-0001");
        assert_eq!(body["digest"], digest);
        assert_eq!(plain.value(json!(Uuid::now_v7())), "019cd6c2-8c00-7000-8000-000000000002");
    }

    #[test]
    fn times_keep_their_distances_and_secrets_go() {
        let mut plain = Plain::default();
        let now = plain.now;
        let shown = plain.value(json!({
            "at": now - TimeDelta::seconds(90), "on": (now + TimeDelta::days(1)).date_naive(),
            "birth_date": "1988-04-17", "password": "b", "token": null,
            "detail": format!("Opened on {}, good for 3 days.", now.date_naive()),
        }));
        let wanted = json!({
            "at": "2026-03-10T07:58:30Z", "on": "2026-03-11",
            "birth_date": "1988-04-17", "password": "an example pass phrase", "token": null,
            "detail": "Opened on 2026-03-10, good for 3 days.",
        });
        assert_eq!(shown, wanted);
    }
}
