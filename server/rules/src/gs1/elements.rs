//! Element strings cut into elements, each with where it stands.

use super::identifiers::{self, Format};
use super::{LENGTH_MAX, LabelProblem, SEPARATOR, refusal};
use crate::refusal::Refusal;

/// What symbols that carry element strings put in front when the scanner is set to say what it read: GS1-128,
/// GS1 DataMatrix, GS1 QR Code, GS1 DataBar (GS1 General Specifications section 5, symbology identifiers).
const SYMBOLOGIES: [&str; 4] = ["]C1", "]d2", "]Q3", "]e0"];
/// Characters in a symbology identifier.
const SYMBOLOGY_LENGTH: usize = 3;

/// A character and where it stands in the text as given, from 1.
pub(super) type Placed = (usize, char);

/// One element as found.
pub(super) struct Found {
    /// The application identifier.
    pub(super) ai: String,
    /// What its value has to look like.
    pub(super) format: Format,
    /// Where the identifier stands.
    position: usize,
    /// The characters of the value.
    pub(super) value: Vec<Placed>,
}

impl Found {
    /// The value as text.
    pub(super) fn text(&self) -> String {
        self.value.iter().map(|(_, c)| c).collect()
    }

    /// A refusal of the element as a whole.
    pub(super) fn refusal(&self, problem: LabelProblem) -> Refusal {
        refusal(problem, self.position, Some(&self.ai))
    }

    /// A refusal of one place in the value; of the element where the value ends before it.
    pub(super) fn refusal_at(&self, problem: LabelProblem, index: usize) -> Refusal {
        let position = self.value.get(index).map_or(self.position, |(position, _)| *position);
        refusal(problem, position, Some(&self.ai))
    }
}

/// Cuts a label into its elements. Values are cut, not yet looked at.
pub(super) fn split(text: &str) -> Result<Vec<Found>, Refusal> {
    let placed: Vec<Placed> = (1..).zip(text.chars()).take(LENGTH_MAX + 1).collect();
    if placed.len() > LENGTH_MAX {
        return Err(refusal(LabelProblem::LabelTooLong, LENGTH_MAX, None));
    }
    let content = without_symbology(trimmed(&placed))?;
    let elements =
        if content.first().is_some_and(|(_, c)| *c == '(') { printed(content)? } else { scanned(content)? };
    if elements.is_empty() { Err(refusal(LabelProblem::Nothing, 0, None)) } else { Ok(elements) }
}

/// Without the white space around it, such as the line end a keyboard scanner adds. The separator is none.
fn trimmed(mut placed: &[Placed]) -> &[Placed] {
    while let [(_, c), rest @ ..] = placed
        && c.is_whitespace()
    {
        placed = rest;
    }
    while let [rest @ .., (_, c)] = placed
        && c.is_whitespace()
    {
        placed = rest;
    }
    placed
}

fn without_symbology(placed: &[Placed]) -> Result<&[Placed], Refusal> {
    let [(position, ']'), ..] = placed else { return Ok(placed) };
    let known = placed.split_at_checked(SYMBOLOGY_LENGTH).filter(|(front, _)| {
        SYMBOLOGIES.iter().any(|symbology| symbology.chars().eq(front.iter().map(|(_, c)| *c)))
    });
    known.map(|(_, rest)| rest).ok_or_else(|| refusal(LabelProblem::OtherKind, *position, None))
}

/// The elements of what a symbol holds (section 7.8): a value of predefined length ends by itself, every other one at
/// the separator or the end. A separator more than needed is passed over (section 7.8.6).
fn scanned(mut rest: &[Placed]) -> Result<Vec<Found>, Refusal> {
    let mut elements = Vec::new();
    loop {
        while let [(_, SEPARATOR), after @ ..] = rest {
            rest = after;
        }
        let Some((position, _)) = rest.first() else { return Ok(elements) };
        let (ai, format, after) = identifier(rest, *position)?;
        let until_separator = after.iter().take_while(|(_, c)| *c != SEPARATOR).count();
        let length = identifiers::predefined_length(&ai).unwrap_or(usize::MAX).min(until_separator);
        let (value, after) = after.split_at_checked(length).unwrap_or((after, &[]));
        elements.push(Found { ai, format, position: *position, value: value.to_vec() });
        rest = after;
    }
}

/// The identifier at the front, what its value looks like, and what follows.
fn identifier(rest: &[Placed], position: usize) -> Result<(String, Format, &[Placed]), Refusal> {
    let front: String = rest.iter().map(|(_, c)| *c).take(4).take_while(char::is_ascii_digit).collect();
    let no_identifier = || refusal(LabelProblem::NoIdentifier, position, None);
    let first_two = front.get(..2).ok_or_else(no_identifier)?;
    let unknown = || refusal(LabelProblem::UnknownIdentifier, position, Some(&front));
    let length = identifiers::length(first_two).ok_or_else(unknown)?;
    let ai = front.get(..length).ok_or_else(unknown)?;
    let format = identifiers::format(ai)
        .ok_or_else(|| refusal(LabelProblem::UnknownIdentifier, position, Some(ai)))?;
    Ok((ai.to_owned(), format, rest.get(length..).unwrap_or_default()))
}

/// The elements of what is printed under a symbol, each identifier in parentheses. Parentheses may also stand in a
/// value: those around two to four digits always begin an element, so no other element is ever taken for a piece of a
/// lot number. No value holds a space, so the spaces that are printed to group digits are passed over.
fn printed(content: &[Placed]) -> Result<Vec<Found>, Refusal> {
    let content: Vec<Placed> = content.iter().filter(|(_, c)| !c.is_whitespace()).copied().collect();
    let mut elements: Vec<Found> = Vec::new();
    let mut rest = content.as_slice();
    while let Some((place, after)) = rest.split_first() {
        if let Some((ai, after)) = bracketed(rest) {
            let format = identifiers::format(&ai)
                .ok_or_else(|| refusal(LabelProblem::UnknownIdentifier, place.0, Some(&ai)))?;
            elements.push(Found { ai, format, position: place.0, value: Vec::new() });
            rest = after;
        } else {
            let element = elements.last_mut();
            element.ok_or_else(|| refusal(LabelProblem::NoIdentifier, place.0, None))?.value.push(*place);
            rest = after;
        }
    }
    Ok(elements)
}

/// Two to four digits in parentheses at the front, and what follows.
fn bracketed(rest: &[Placed]) -> Option<(String, &[Placed])> {
    let [(_, '('), inside @ ..] = rest else { return None };
    let ai: String = inside.iter().map(|(_, c)| *c).take(4).take_while(char::is_ascii_digit).collect();
    let [(_, ')'), after @ ..] = inside.get(ai.len()..)? else { return None };
    (ai.len() >= 2).then_some((ai, after))
}
