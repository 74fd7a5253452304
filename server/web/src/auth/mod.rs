//! Who is calling: tokens, passwords, and the extractor that every handler begins with.

mod caller;
pub(crate) mod password;
mod token;

pub(crate) use caller::{COOKIE, Caller};
pub(crate) use token::{SignIn, Tokens};

/// The text to store for a new password, for programs that add users without a server.
pub fn hash_password(password: &str) -> Result<String, sellion_rules::refusal::Refusal> {
    password::Password::from(password.to_owned()).hash()
}
