//! Signing keys, as far as anybody may know of them.

use crate::text_enum::text_enum;

text_enum! {
    /// How a key that signs badges stands.
    pub enum KeyState {
        /// It is published, and signs once the site rotates to it.
        StandsBy = "stands_by",
        /// It signs what is made now.
        Signs = "signs",
        /// It signs nothing new; what it signed is still accepted.
        Accepted = "accepted",
        /// Nothing that it signed is accepted any more.
        Retired = "retired",
        /// It was in wrong hands: every badge of it has ended.
        Withdrawn = "withdrawn",
    }
}
