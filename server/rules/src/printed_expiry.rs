//! Expiries as they stand on labels: kept as printed, and read where they can mean one day only.
//!
//! Read are a year and a month, or a day, in the forms that labels have: `2027-08`, `08/2027`, `AUG 2027`, `31.08.2027`,
//! `31 AUG 2027`. The year has four digits. Without a day the last one of the month is meant (common practice, and
//! what day 00 of a GS1 label says: GS1 General Specifications, section 3.4). A day and a month that can be read both ways round
//! are refused: which of them comes first differs from country to country.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike, Months, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::refusal::{Code, Refusal};

/// English names, of which three letters or all are printed.
const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// What stands between the parts of a date.
const BETWEEN: &[char] = &[' ', '-', '/', '.', ','];

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
        let last_day = last_day(year, month, day)?;
        let printed = match day {
            None => format!("{year:04}-{month:02}"),
            Some(day) => format!("{year:04}-{month:02}-{day:02}"),
        };
        Some(Self { printed, last_day })
    }
}

fn last_day(year: i32, month: u32, day: Option<u32>) -> Option<NaiveDate> {
    if !(0..=9999).contains(&year) {
        return None;
    }
    match day {
        Some(day) => NaiveDate::from_ymd_opt(year, month, day),
        None => NaiveDate::from_ymd_opt(year, month, 1)?.checked_add_months(Months::new(1))?.pred_opt(),
    }
}

/// One part of a printed date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// Four digits.
    Year(i32),
    /// One or two digits: a day or a month.
    Number(u32),
    /// The name of a month, as its number.
    Month(u32),
}

/// What a text can mean.
enum Reading {
    Day(NaiveDate),
    Either(NaiveDate, NaiveDate),
}

impl FromStr for PrintedExpiry {
    type Err = Refusal;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match parts(text).as_deref().and_then(read) {
            Some(Reading::Day(last_day)) => Ok(Self { printed: text.to_owned(), last_day }),
            Some(Reading::Either(one, other)) => {
                let detail = format!(
                    "\"{text}\" can be {} or {}: write {one} or {other}, whichever the maker means.",
                    words(one),
                    words(other)
                );
                Err(Refusal::new(Code::ExpiryAmbiguous, detail).field("printed_expiry"))
            }
            None => {
                let detail = format!(
                    "Write the expiry as printed with all four digits of the year, as 2027-08, 08/2027, AUG 2027 or \
                     31.08.2027; \"{text}\" names no month or day."
                );
                Err(Refusal::new(Code::InvalidValue, detail).field("printed_expiry"))
            }
        }
    }
}

fn words(day: NaiveDate) -> String {
    day.format("%-d %B %Y").to_string()
}

/// The parts of the text, split at separators and between digits and letters; none where something else is in it.
fn parts(text: &str) -> Option<Vec<Part>> {
    let mut runs: Vec<String> = Vec::new();
    let mut before: Option<char> = None;
    for c in text.chars() {
        let apart = |before: char| BETWEEN.contains(&before) || before.is_ascii_digit() != c.is_ascii_digit();
        if BETWEEN.contains(&c) {
            // A separator stands between two parts: "-08" is half of a date.
            before?;
        } else if c.is_ascii_alphanumeric() {
            match runs.last_mut() {
                Some(run) if !before.is_some_and(apart) => run.push(c),
                _ => runs.push(c.to_string()),
            }
        } else {
            return None;
        }
        before = Some(c);
    }
    let ends_whole = before.is_some_and(|last| !BETWEEN.contains(&last));
    if !ends_whole {
        return None;
    }
    runs.iter().map(|run| part(run)).collect()
}

fn part(run: &str) -> Option<Part> {
    if run.bytes().all(|byte| byte.is_ascii_digit()) {
        return match run.len() {
            4 => run.parse().ok().map(Part::Year),
            1 | 2 => run.parse().ok().map(Part::Number),
            _ => None,
        };
    }
    let run = run.to_ascii_lowercase();
    let named = (1..).zip(MONTHS).find(|(_, name)| run == *name || name.get(..3) == Some(run.as_str()));
    named.map(|(number, _)| Part::Month(number))
}

fn read(parts: &[Part]) -> Option<Reading> {
    use Part::{Month, Number, Year};
    let day = |year, month, day| last_day(year, month, day).map(Reading::Day);
    match *parts {
        [Year(year), Number(month) | Month(month)] | [Number(month) | Month(month), Year(year)] => {
            day(year, month, None)
        }
        // With the year first the month is the second one everywhere (ISO 8601).
        [Year(year), Number(month) | Month(month), Number(of_month)]
        | [Number(of_month), Month(month), Year(year)]
        | [Month(month), Number(of_month), Year(year)] => day(year, month, Some(of_month)),
        [Number(first), Number(second), Year(year)] => {
            let day_first = last_day(year, second, Some(first));
            let month_first = last_day(year, first, Some(second));
            match (day_first, month_first) {
                (Some(one), Some(other)) if one.month() != other.month() => Some(Reading::Either(one, other)),
                (one, other) => one.or(other).map(Reading::Day),
            }
        }
        _ => None,
    }
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
                .description(Some(
                    "An expiry as printed on the label: 2027-08 and AUG 2027 mean its last day",
                ))
                .into()
        }
    }

    impl utoipa::ToSchema for PrintedExpiry {}
}
