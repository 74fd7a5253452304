//! Kinds of values, what may be written for each, and which of two is the stricter one.

use super::values::RuleScalar;

/// What kind of value a key holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A whole number within bounds.
    Number {
        /// The least there may be.
        least: i64,
        /// The most there may be.
        most: i64,
        /// Whether the larger of two is the stricter one.
        larger_is_stricter: bool,
    },
    /// Yes or no.
    Flag {
        /// The stricter of the two.
        stricter: bool,
    },
    /// One word of a list, the loosest first.
    Words(&'static [&'static str]),
    /// One of some words that cannot be compared, or the word for all of them together, which is the strictest.
    Joined {
        /// The words that cannot be compared.
        words: &'static [&'static str],
        /// The word for all of them together.
        both: &'static str,
    },
    /// The name of a list of exercises. Lists are compared exercise by exercise, not by name.
    List,
}

impl Kind {
    /// What is wrong with a value of this kind, if anything is. `not_set` is looked at elsewhere.
    pub fn mistake(self, value: &RuleScalar) -> Option<String> {
        match (self, value) {
            (Self::Number { least, most, .. }, RuleScalar::Number(number)) => {
                if *number < least {
                    Some(format!("{number} is less than {least}"))
                } else if *number > most {
                    Some(format!("{number} is more than {most}"))
                } else {
                    None
                }
            }
            (Self::Number { .. }, _) => Some("a whole number is expected".to_owned()),
            (Self::Flag { .. }, RuleScalar::Flag(_)) => None,
            (Self::Flag { .. }, _) => Some("true or false is expected".to_owned()),
            (Self::List, RuleScalar::Text(_)) => None,
            (Self::Words(_) | Self::Joined { .. }, RuleScalar::Text(word)) => {
                let known = self.words();
                let unknown = !known.contains(&word.as_str());
                unknown.then(|| format!("\"{word}\" is not one of {}", known.join(", ")))
            }
            (Self::Words(_) | Self::Joined { .. } | Self::List, _) => Some("a word is expected".to_owned()),
        }
    }

    /// Every word it may be, the loosest first; none where it is no word of a list.
    pub fn words(self) -> Vec<&'static str> {
        match self {
            Self::Words(words) => words.to_vec(),
            Self::Joined { words, both } => words.iter().copied().chain([both]).collect(),
            Self::Number { .. } | Self::Flag { .. } | Self::List => Vec::new(),
        }
    }

    /// The loosest value that is at least as strict as both.
    ///
    /// No limit is looser than every number. Lists are not compared here; of two names the first one stays.
    #[must_use]
    pub fn strictest(self, one: &RuleScalar, other: &RuleScalar) -> RuleScalar {
        if one == other || other.is_not_set() {
            return one.clone();
        }
        if one.is_not_set() {
            return other.clone();
        }
        match (self, one, other) {
            (Self::Number { larger_is_stricter, .. }, RuleScalar::Number(one), RuleScalar::Number(other)) => {
                RuleScalar::Number(if larger_is_stricter { *one.max(other) } else { *one.min(other) })
            }
            (Self::Flag { stricter }, ..) => RuleScalar::Flag(stricter),
            (Self::Words(words), RuleScalar::Text(word), RuleScalar::Text(of_other)) => {
                let place = |word: &str| words.iter().position(|listed| *listed == word);
                RuleScalar::Text(if place(word) < place(of_other) { of_other.clone() } else { word.clone() })
            }
            (Self::Joined { both, .. }, ..) => RuleScalar::Text(both.to_owned()),
            _ => one.clone(),
        }
    }

    /// Whether `one` is at least as strict as `other`.
    pub fn is_at_least_as_strict(self, one: &RuleScalar, other: &RuleScalar) -> bool {
        self.strictest(one, other) == *one
    }
}
