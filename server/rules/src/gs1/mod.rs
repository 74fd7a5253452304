//! Supply labels: the GS1 element string of a box as a scanner delivers it, read into what a storekeeper needs.
//!
//! Source: GS1 General Specifications, sections 3 (application identifiers), 7.8 (processing of element strings),
//! 7.9 (check digits), 7.11 (character sets) and 7.12 (dates); facts 8.2 to 8.4.
//!
//! One mistake can't be seen here: a scanner that leaves out the separator lets a lot number swallow what follows it.
//! Where that makes the lot longer than any lot can be, the refusal says what to look for.

mod elements;
mod identifiers;
mod values;

use serde::Serialize;

use crate::printed_expiry::PrintedExpiry;
use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

/// The separator between elements as scanners send it: the group separator of ASCII, which stands for FNC1.
pub const SEPARATOR: char = '\u{1d}';

/// Longest text that is looked at: no symbol holds more characters (ISO/IEC 18004, version 40, digits only).
pub const LENGTH_MAX: usize = 7089;

/// What a supply label says. What is not on the label is none.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SupplyLabel {
    /// Number of the trade item, 14 digits with a right check digit: identifier 01.
    pub gtin: Option<String>,
    /// Batch or lot, 1 to 20 characters: identifier 10.
    pub lot_number: Option<String>,
    /// The last day of use: identifier 17.
    pub expiry: Option<LabelExpiry>,
    /// Serial number, 1 to 20 characters: identifier 21.
    pub serial: Option<String>,
    /// How many items: identifier 30.
    pub count: Option<u32>,
    /// Every other element, in the order of the label, so that nothing is lost.
    pub others: Vec<Element>,
}

/// An expiry as on the label and as it is read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LabelExpiry {
    /// The six digits of the label: year, month, day, where day 00 means the last day of the month.
    pub yymmdd: String,
    /// The same with its century, as a lot keeps it: a month where the label names no day.
    pub printed_expiry: PrintedExpiry,
    /// The last day of use.
    pub expires_on: chrono::NaiveDate,
}

/// One element: an application identifier and its value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Element {
    /// The application identifier, 2 to 4 digits.
    pub ai: String,
    /// Its value, as it stands on the label.
    pub value: String,
}

text_enum! {
    /// What is wrong with a label.
    pub enum LabelProblem {
        /// There is nothing to read.
        Nothing = "nothing",
        /// More characters than any symbol holds.
        LabelTooLong = "label_too_long",
        /// A symbology identifier of a code that carries no element string.
        OtherKind = "other_kind",
        /// No application identifier where one has to stand.
        NoIdentifier = "no_identifier",
        /// An application identifier that is not in the list.
        UnknownIdentifier = "unknown_identifier",
        /// An identifier without a value.
        Empty = "empty",
        /// A value with fewer characters than its identifier wants.
        TooShort = "too_short",
        /// A value with more characters than its identifier allows, or with a number of them that it does not.
        TooLong = "too_long",
        /// A character that may not stand in this value.
        Character = "character",
        /// The check digit does not fit the digits before it.
        CheckDigit = "check_digit",
        /// A date that no calendar has.
        Date = "date",
        /// The same identifier twice, with different values.
        Contradiction = "contradiction",
    }
}

/// Reads a label. The text may start with a symbology identifier (`]C1`, `]d2`, `]Q3`, `]e0`) or a separator; it may
/// also be what is printed under the symbol, with the identifiers in parentheses. `this_year` settles the century.
///
/// # Errors
/// `label_unreadable`, with the facts `problem`, `position` (in characters of the text as given, from 1) and, where
/// one is meant, `ai`.
pub fn read_label(text: &str, this_year: i32) -> Result<SupplyLabel, Refusal> {
    let mut label = SupplyLabel::default();
    let mut seen: Vec<Element> = Vec::new();
    for found in elements::split(text)? {
        values::check(&found, this_year)?;
        let element = Element { ai: found.ai.clone(), value: found.text() };
        match seen.iter().find(|earlier| earlier.ai == element.ai) {
            // The same again says nothing new: two symbols of one box are often read together (section 7.8).
            Some(earlier) if earlier.value == element.value => continue,
            Some(_) => return Err(found.refusal(LabelProblem::Contradiction)),
            None => seen.push(element.clone()),
        }
        match found.ai.as_str() {
            "01" => label.gtin = Some(element.value),
            "10" => label.lot_number = Some(element.value),
            "17" => label.expiry = Some(values::expiry(&found, this_year)?),
            "21" => label.serial = Some(element.value),
            "30" => label.count = Some(values::count(&found)?),
            _ => label.others.push(element),
        }
    }
    Ok(label)
}

/// A refusal that says where and what; `ai` where one is known.
fn refusal(problem: LabelProblem, position: usize, ai: Option<&str>) -> Refusal {
    let place = match ai {
        Some(ai) => format!("At character {position}, identifier ({ai}): "),
        None if position > 0 => format!("At character {position}: "),
        None => String::new(),
    };
    let detail = format!("{place}{} Scan again, or type the lot and expiry twice.", sentence(problem));
    let refusal = Refusal::new(Code::LabelUnreadable, detail)
        .field("text")
        .fact("problem", problem.as_str())
        .fact("position", i64::try_from(position).unwrap_or(i64::MAX));
    match ai {
        Some(ai) => refusal.fact("ai", ai),
        None => refusal,
    }
}

fn sentence(problem: LabelProblem) -> &'static str {
    match problem {
        LabelProblem::Nothing => "the label is empty.",
        LabelProblem::LabelTooLong => "this is longer than any label.",
        LabelProblem::OtherKind => {
            "this kind of code carries no lot or expiry: look for another one on the box."
        }
        LabelProblem::NoIdentifier => "an application identifier has to stand here.",
        LabelProblem::UnknownIdentifier => "there is no such application identifier.",
        LabelProblem::Empty => "the value is missing.",
        LabelProblem::TooShort => "the value is too short.",
        LabelProblem::TooLong => {
            "the value is too long: perhaps the scanner is set to leave out the separator (group separator, FNC1)."
        }
        LabelProblem::Character => "this character may not stand here.",
        LabelProblem::CheckDigit => "the check digit does not fit.",
        LabelProblem::Date => "there is no such day.",
        LabelProblem::Contradiction => "this stands on the label twice, with different values.",
    }
}
