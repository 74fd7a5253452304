//! What a text tells its reader.

use chrono::DateTime;
use uuid::Uuid;

/// Whether a text (JSON or CSV) tells `what` anywhere but in ids and moments. Those are made of the same digits as
/// years and staff numbers, so that any four of them turn up in one sooner or later.
#[must_use]
pub fn tells(text: &str, what: &str) -> bool {
    let of_one_word = |character: char| character.is_alphanumeric() || "-:.+".contains(character);
    let by_chance = |word: &&str| Uuid::parse_str(word).is_ok() || DateTime::parse_from_rfc3339(word).is_ok();
    let mut told = text.to_owned();
    for word in text.split(|character| !of_one_word(character)).filter(by_chance) {
        told = told.replace(word, "");
    }
    told.contains(what)
}

#[cfg(test)]
mod tests {
    use super::tells;

    #[test]
    fn ids_and_moments_tell_nothing_and_everything_else_does() {
        let text = concat!(
            r#"{"id":"01989004-1988-7000-8004-000000000004","at":"2026-11-27T21:12:18.004198Z","#,
            r#""born":"1988-04-17","staff_number":"0041"}"#
        );
        assert!(tells(text, "1988") && tells(text, "004") && tells(text, "staff"));
        let told = text.replace("1988-04-17", "").replace("0041", "");
        assert!(!tells(&told, "1988") && !tells(&told, "004"));
        assert!(tells("01989004-1988-7000-8004-000000000004,1988-04-17,Ines", "1988"));
    }
}
