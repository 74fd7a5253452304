//! What is wrong with a rule set: where in its text, or which of its values nobody has confirmed.

use std::fmt;

use serde::Serialize;

use crate::text_enum::text_enum;

text_enum! {
    /// What kind of mistake it is.
    pub enum MistakeKind {
        /// The text cannot be read as a rule set, or a value is missing, misspelled or impossible.
        Malformed = "malformed",
        /// A value of a site's own is looser than what it is based on, and nobody answers for it by name and date.
        LooserWithoutConfirmation = "looser_without_confirmation",
    }
}

/// One mistake in the text of a rule set.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Mistake {
    /// The line, from 1.
    pub line: usize,
    /// The character in that line, from 1.
    pub column: usize,
    /// The value that is meant; empty when it is the file as a whole.
    pub key: String,
    /// What kind of mistake it is.
    pub kind: MistakeKind,
    /// What is wrong with it, in words.
    pub reason: String,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { line, column, key, reason, .. } = self;
        write!(f, "{line}:{column}: ")?;
        if key.is_empty() { write!(f, "{reason}") } else { write!(f, "{key}: {reason}") }
    }
}

/// A value without which a rule set cannot be used, and that nobody has confirmed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Open {
    /// The value.
    pub key: String,
    /// Why it does not count.
    pub reason: String,
}

impl fmt::Display for Open {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.key, self.reason)
    }
}

/// Why a text gives no rule set that may be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RuleSetError {
    /// Its text is wrong in these places.
    Mistakes(Vec<Mistake>),
    /// Its text is sound, but these values still have to be confirmed.
    Open(Vec<Open>),
}

impl fmt::Display for RuleSetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fn list<T: fmt::Display>(f: &mut fmt::Formatter<'_>, items: &[T]) -> fmt::Result {
            let lines: Vec<_> = items.iter().map(T::to_string).collect();
            f.write_str(&lines.join("; "))
        }
        match self {
            Self::Mistakes(mistakes) => list(f, mistakes),
            Self::Open(open) => list(f, open),
        }
    }
}

impl std::error::Error for RuleSetError {}
