//! Numbers in words that a person at a gate takes in at a glance.

/// A length of time in its two largest units: `2 hours 5 minutes`.
pub fn span(seconds: i64) -> String {
    let units = [("day", 86_400), ("hour", 3_600), ("minute", 60), ("second", 1)];
    let seconds = seconds.max(0);
    let Some(first) = units.iter().position(|(_, length)| seconds >= *length) else {
        return "0 seconds".to_owned();
    };
    let (name, length) = units[first];
    let mut words = counted(seconds / length, name);
    if let Some((name, next)) = units.get(first + 1) {
        let rest = seconds % length / next;
        if rest > 0 {
            words = format!("{words} {}", counted(rest, name));
        }
    }
    words
}

fn counted(number: i64, name: &str) -> String {
    if number == 1 { format!("1 {name}") } else { format!("{number} {name}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_units_are_enough() {
        for (seconds, words) in [
            (-5, "0 seconds"),
            (0, "0 seconds"),
            (1, "1 second"),
            (75, "1 minute 15 seconds"),
            (3_600, "1 hour"),
            (7_509, "2 hours 5 minutes"),
            (9 * 86_400 + 3_599, "9 days"),
            (86_400 + 3_600, "1 day 1 hour"),
        ] {
            assert_eq!(span(seconds), words);
        }
    }
}
