//! Values of elements: their characters and lengths, check digits, days and counts.

use super::elements::{Found, Placed};
use super::identifiers::{Kind, Part};
use super::{LabelExpiry, LabelProblem};
use crate::printed_expiry::PrintedExpiry;
use crate::refusal::Refusal;

/// Checks a value against what its identifier wants.
pub(super) fn check(found: &Found, this_year: i32) -> Result<(), Refusal> {
    if found.value.is_empty() {
        return Err(found.refusal(LabelProblem::Empty));
    }
    let first = found.format.first;
    let Some(second) = found.format.second else {
        return check_part(found, first, 0, &found.value, this_year);
    };
    let boundary = first.max.min(found.value.len());
    let (front, rest) = found.value.split_at_checked(boundary).unwrap_or((&found.value, &[]));
    check_part(found, first, 0, front, this_year)?;
    check_part(found, second, boundary, rest, this_year)
}

fn check_part(
    found: &Found,
    part: Part,
    offset: usize,
    value: &[Placed],
    this_year: i32,
) -> Result<(), Refusal> {
    // A foreign character comes first: it is why the value is too long, when another element was swallowed.
    if let Some(index) = value.iter().position(|(_, c)| !part.kind.allows(*c)) {
        return Err(found.refusal_at(LabelProblem::Character, offset.saturating_add(index)));
    }
    if value.len() < part.min {
        return Err(found.refusal(LabelProblem::TooShort));
    }
    let over = value.len().saturating_sub(part.min);
    if value.len() > part.max || over.checked_rem(part.step).is_some_and(|rest| rest != 0) {
        return Err(found.refusal(LabelProblem::TooLong));
    }
    match part.kind {
        Kind::Key if !has_right_check_digit(value) => Err(found.refusal(LabelProblem::CheckDigit)),
        Kind::Date if day(value, this_year).is_none() => Err(found.refusal(LabelProblem::Date)),
        _ => Ok(()),
    }
}

/// Weights 3 and 1 in turn from the right, the check digit itself having weight 1: the sum is a multiple of ten
/// (section 7.9.1).
fn has_right_check_digit(value: &[Placed]) -> bool {
    let weighted = value.iter().rev().zip([1, 3].into_iter().cycle());
    let sum: u32 = weighted.map(|((_, c), weight)| c.to_digit(10).unwrap_or(0) * weight).sum();
    sum.is_multiple_of(10)
}

/// The expiry of an element that was checked.
pub(super) fn expiry(found: &Found, this_year: i32) -> Result<LabelExpiry, Refusal> {
    let printed_expiry = day(&found.value, this_year).ok_or_else(|| found.refusal(LabelProblem::Date))?;
    Ok(LabelExpiry { yymmdd: found.text(), expires_on: printed_expiry.last_day(), printed_expiry })
}

/// The count of an element that was checked.
pub(super) fn count(found: &Found) -> Result<u32, Refusal> {
    found.text().parse().map_err(|_| found.refusal(LabelProblem::TooLong))
}

/// A day as YYMMDD; day 00 is the last one of the month (section 3.4, fact 8.3).
fn day(value: &[Placed], this_year: i32) -> Option<PrintedExpiry> {
    let number = |index: usize| {
        let digit = |index| value.get(index).and_then(|(_, c): &Placed| c.to_digit(10));
        Some(digit(index)? * 10 + digit(index + 1)?)
    };
    let year = full_year(i32::try_from(number(0)?).ok()?, this_year)?;
    let day = Some(number(4)?).filter(|day| *day != 0);
    PrintedExpiry::of(year, number(2)?, day)
}

/// The year that two digits mean, by the sliding window (section 7.12, fact 8.4): 51 or more above the present ones are
/// the last century, 50 or more below them the next.
fn full_year(two_digits: i32, this_year: i32) -> Option<i32> {
    let present = this_year.rem_euclid(100);
    let century = this_year.checked_sub(present)?;
    let shift = match two_digits - present {
        51.. => -100,
        ..=-50 => 100,
        _ => 0,
    };
    century.checked_add(two_digits)?.checked_add(shift)
}
