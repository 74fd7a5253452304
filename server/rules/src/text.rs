//! Texts of one line that people type: trimmed, not too long, and without characters that nobody can see.
//!
//! Two names that look alike have to be alike, or one person gets the result of another. So whatever hides in a text
//! or turns its order round is refused, not taken out: what is stored is what was typed.

use crate::refusal::{Code, Refusal};

/// Characters of names, numbers and other words that have to fit on a screen or a badge.
pub const SHORT: usize = 120;
/// Characters of sentences.
pub const LONG: usize = 1000;
/// Characters of a username.
const USERNAME_MAX: usize = 64;

/// What is wrong with a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextFault {
    /// It says nothing, where something has to be said.
    Blank,
    /// It has more characters than are accepted.
    TooLong,
    /// It holds a character that cannot be seen, that turns the order of others round, or that was broken.
    Hidden,
}

/// The text without the spaces around it; it may be empty.
///
/// # Errors
/// [`TextFault::TooLong`] above `length_max` characters, [`TextFault::Hidden`] for what cannot be seen.
pub fn checked(text: &str, length_max: usize) -> Result<&str, TextFault> {
    let text = text.trim();
    if text.chars().count() > length_max {
        return Err(TextFault::TooLong);
    }
    if holds_hidden(text) || (!text.is_empty() && text.chars().all(is_modifier)) {
        return Err(TextFault::Hidden);
    }
    Ok(text)
}

/// The same for a number or label that is compared and typed: joiners and unusual spaces are hidden in it too.
///
/// # Errors
/// As [`checked`].
pub fn checked_number(text: &str, length_max: usize) -> Result<&str, TextFault> {
    let text = checked(text, length_max)?;
    let odd = |c: char| is_joiner(c) || (c.is_whitespace() && c != ' ');
    if text.contains(odd) { Err(TextFault::Hidden) } else { Ok(text) }
}

/// A text that must say something.
///
/// # Errors
/// `invalid_value`, naming the field.
pub fn line(text: &str, field: &'static str, length_max: usize) -> Result<String, Refusal> {
    let text = line_or_empty(text, field, length_max)?;
    if text.is_empty() { Err(refusal(TextFault::Blank, field, length_max)) } else { Ok(text) }
}

/// A text that may be empty.
///
/// # Errors
/// `invalid_value`, naming the field.
pub fn line_or_empty(text: &str, field: &'static str, length_max: usize) -> Result<String, Refusal> {
    checked(text, length_max).map(str::to_owned).map_err(|fault| refusal(fault, field, length_max))
}

/// A text that may be left out; an empty one counts as left out.
///
/// # Errors
/// `invalid_value`, naming the field.
pub fn line_or_none(
    text: Option<&str>,
    field: &'static str,
    length_max: usize,
) -> Result<Option<String>, Refusal> {
    let text = line_or_empty(text.unwrap_or_default(), field, length_max)?;
    Ok((!text.is_empty()).then_some(text))
}

/// A number or label that must say something, such as a staff number.
///
/// # Errors
/// `invalid_value`, naming the field.
pub fn number(text: &str, field: &'static str, length_max: usize) -> Result<String, Refusal> {
    let text = checked_number(text, length_max).map_err(|fault| refusal(fault, field, length_max))?;
    line(text, field, length_max)
}

/// What a person signs in with: 1 to 64 letters, digits and any of `. _ - @`, in lower case.
///
/// # Errors
/// `invalid_value` for the field `username`.
pub fn username(text: &str) -> Result<String, Refusal> {
    let name = text.trim().to_lowercase();
    // Some characters that take no place on paper are letters by their kind.
    let plain = |c: char| (c.is_alphanumeric() && !is_hidden(c)) || ['.', '_', '-', '@'].contains(&c);
    if (1..=USERNAME_MAX).contains(&name.chars().count()) && name.chars().all(plain) {
        return Ok(name);
    }
    let sentence = "A username has 1 to 64 letters, digits and any of . _ - @";
    Err(Refusal::new(Code::InvalidValue, sentence).field("username"))
}

fn refusal(fault: TextFault, field: &'static str, length_max: usize) -> Refusal {
    let sentence = match fault {
        TextFault::Blank => "This must not be empty.".to_owned(),
        TextFault::TooLong => format!("This has at most {length_max} characters."),
        TextFault::Hidden => {
            "This holds a character that cannot be seen, such as a line break: type it again.".to_owned()
        }
    };
    Refusal::new(Code::InvalidValue, sentence).field(field)
}

fn holds_hidden(text: &str) -> bool {
    let mut before = None;
    let mut rest = text.chars();
    while let Some(c) = rest.next() {
        let hidden = if is_joiner(c) { !joins(before, rest.clone().next()) } else { is_hidden(c) };
        if hidden {
            return true;
        }
        before = Some(c);
    }
    false
}

/// Characters that take no place on paper or change the order of others, and the one that stands for a broken one.
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
                | '\u{180b}'..='\u{180f}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}' | '\u{feff}' | '\u{ffa0}'
                | '\u{fff0}'..='\u{fffd}' | '\u{e0000}'..='\u{e00ff}'
        )
}

/// Zero-width non-joiner and joiner.
fn is_joiner(c: char) -> bool {
    matches!(c, '\u{200c}' | '\u{200d}')
}

/// The words with their first letter as at the beginning of a sentence.
pub(crate) fn capital(words: &str) -> String {
    let mut text = words.to_owned();
    if let Some(initial) = text.get_mut(..1) {
        initial.make_ascii_uppercase();
    }
    text
}

/// Whether a joiner stands where scripts need one: between two letters, or after the sign that silences a vowel. No
/// script of the ASCII letters joins, so there it could only hide.
fn joins(before: Option<char>, after: Option<char>) -> bool {
    let letter = |c: Option<char>| {
        c.is_some_and(|c| !c.is_ascii() && !c.is_whitespace() && !is_hidden(c) && !is_joiner(c))
    };
    let ends_word = after.is_none_or(char::is_whitespace);
    letter(before) && (letter(after) || (ends_word && before.is_some_and(is_virama)))
}

/// The signs that silence a vowel in the scripts of South Asia; a joiner after one may end a word.
fn is_virama(c: char) -> bool {
    matches!(
        c,
        '\u{94d}'
            | '\u{9cd}'
            | '\u{a4d}'
            | '\u{acd}'
            | '\u{b4d}'
            | '\u{bcd}'
            | '\u{c4d}'
            | '\u{ccd}'
            | '\u{d4d}'
            | '\u{dca}'
    )
}

/// Characters that only change the one before them; a text of nothing else shows nothing.
fn is_modifier(c: char) -> bool {
    c.is_whitespace() || matches!(c, '\u{fe00}'..='\u{fe0f}' | '\u{e0100}'..='\u{e01ef}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_trimmed_and_must_say_something() {
        assert_eq!(line(" Hal Denmark\u{a0}", "name", SHORT).unwrap(), "Hal Denmark");
        assert_eq!(line(" \u{a0} ", "name", SHORT).unwrap_err().field.as_deref(), Some("name"));
        assert_eq!(line_or_none(Some("  "), "limits", LONG).unwrap(), None);
        for nothing in ["\u{200b}", "\u{200d}", "\u{feff} \u{2060}", "\u{3164}", "\u{fe0f}", "\u{2800}"] {
            assert!(line(nothing, "name", SHORT).is_err(), "{nothing:?}");
            assert!(line_or_empty(nothing, "name", SHORT).is_err(), "{nothing:?}");
        }
    }

    #[test]
    fn what_cannot_be_seen_or_kept_is_refused() {
        // Unicode Standard Annex 9 s.2: the characters that turn the order round.
        let turning = ['\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202e}', '\u{2066}', '\u{2069}'];
        let invisible =
            ['\n', '\0', '\u{85}', '\u{ad}', '\u{200b}', '\u{2028}', '\u{2060}', '\u{feff}', '\u{fffd}'];
        for c in turning.into_iter().chain(invisible) {
            assert_eq!(checked(&format!("a{c}b"), SHORT), Err(TextFault::Hidden), "{c:?}");
        }
    }

    #[test]
    fn lengths_are_counted_in_characters() {
        assert!(line(&"ж".repeat(SHORT), "name", SHORT).is_ok());
        assert_eq!(checked(&"ж".repeat(SHORT + 1), SHORT), Err(TextFault::TooLong));
    }

    #[test]
    fn scripts_that_need_joiners_may_have_them_and_others_may_not() {
        // The Unicode Standard s.23.2: joiners inside words of Persian, Sinhala and Malayalam.
        for name in ["علی\u{200c}رضا", "ශ\u{dca}\u{200d}රී", "മോഹന\u{d4d}\u{200d}", "മോഹന\u{d4d}\u{200d} ദാസ"]
        {
            assert_eq!(checked(name, SHORT), Ok(name));
            assert_eq!(checked_number(name, SHORT), Err(TextFault::Hidden), "not in a number");
        }
        for name in ["In\u{200d}es", "Ines\u{200c}", "\u{200d}Ines", "علی\u{200c}", "علی\u{200c}\u{200c}رضا"]
        {
            assert_eq!(checked(name, SHORT), Err(TextFault::Hidden), "{name:?}");
        }
    }

    #[test]
    fn numbers_keep_their_zeros_and_hide_no_spaces() {
        assert_eq!(number(" 004 7 ", "staff_number", SHORT).unwrap(), "004 7");
        assert!(number("004\u{a0}7", "staff_number", SHORT).is_err());
        assert!(number(" ", "staff_number", SHORT).is_err());
    }

    #[test]
    fn usernames_are_plain_and_in_lower_case() {
        assert_eq!(username(" Ines.Valdrun ").unwrap(), "ines.valdrun");
        for name in ["", "ines valdrun", "ines\u{200b}", "\u{3164}", &"x".repeat(65)] {
            assert_eq!(username(name).unwrap_err().field.as_deref(), Some("username"), "{name:?}");
        }
    }
}
