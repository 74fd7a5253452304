//! Passwords: argon2id, with the parameters in the stored text so that they can grow later.

use argon2::{
    Argon2,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use sellion_rules::refusal::{Code, Refusal};

/// Shorter passwords are refused (NIST SP 800-63B s.5.1.1.1 asks for at least 8, from memory).
const LENGTH_MIN: usize = 10;
/// Longer ones only cost time.
const LENGTH_MAX: usize = 256;

/// A password on its way in. It never prints itself.
#[derive(Clone, serde::Deserialize)]
#[serde(transparent)]
pub(crate) struct Password(String);

impl std::fmt::Debug for Password {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Password(..)")
    }
}

impl From<String> for Password {
    fn from(text: String) -> Self {
        Self(text)
    }
}

impl Password {
    /// The text to store for a new password.
    pub(crate) fn hash(&self) -> Result<String, Refusal> {
        let length = self.0.chars().count();
        if !(LENGTH_MIN..=LENGTH_MAX).contains(&length) {
            let sentence = format!("A password has {LENGTH_MIN} to {LENGTH_MAX} characters.");
            return Err(Refusal::new(Code::InvalidValue, sentence).field("password"));
        }
        Argon2::default()
            .hash_password(self.0.as_bytes())
            .map(|hash| hash.to_string())
            .map_err(|_| Refusal::new(Code::InvalidValue, "This password cannot be used.").field("password"))
    }

    /// Whether this is the password the stored text was made from.
    pub(crate) fn matches(&self, stored: &str) -> bool {
        PasswordHash::new(stored)
            .is_ok_and(|hash| Argon2::default().verify_password(self.0.as_bytes(), &hash).is_ok())
    }

    /// Takes as long as checking a real password, so that unknown accounts do not answer sooner.
    pub(crate) fn matches_nobody(&self) {
        const NOBODY: &str = "$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHRzb21lc2FsdA$\
                              JSdQ6Xj0w3bVqNZPmWgGqAm1c9hP0Z1j3q3zQGkz0Vw";
        self.matches(NOBODY);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_matches_its_own_text_only() {
        let stored = Password::from("correct horse".to_owned()).hash().unwrap();
        assert!(stored.starts_with("$argon2id$"));
        assert!(Password::from("correct horse".to_owned()).matches(&stored));
        assert!(!Password::from("correct house".to_owned()).matches(&stored));
    }

    #[test]
    fn short_passwords_are_refused() {
        assert_eq!(Password::from("short".to_owned()).hash().unwrap_err().code, Code::InvalidValue);
    }
}
