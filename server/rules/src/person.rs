//! Kinds of people who are tested.

use crate::text_enum::text_enum;

text_enum! {
    /// Whether a person stands on the hospital's own roster.
    pub enum PersonKind {
        /// On the roster.
        Staff = "staff",
        /// From an agency, a school or a contractor: somebody here answers for them.
        Temporary = "temporary",
    }
}
