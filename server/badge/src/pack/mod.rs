//! The gate pack: everything one gate needs to answer alone, in one signed document.
//!
//! A compact JWS with `typ` [`TYP`]. Its payload says who may go in at this gate and until when, and nothing else: no
//! name, no staff number, no reason, nothing of another gate.
//!
//! | claim | holds |
//! |---|---|
//! | `iss`, `sub` | the site's short name, as on its badges; the gate |
//! | `iat` | the server's clock when the pack was made |
//! | `content` | digest of everything but `iat`: two packs that say the same have the same |
//! | `gate`, `zone` | what people call the gate; the site's time zone |
//! | `jwks` | the keys that sign badges and packs (RFC 7517) |
//! | `status_list` | the signed status list of the site |
//! | `policies` | the version of the policy that is in force, and those to come |
//! | `respirators` | those that some policy accepts: id, printed number, words |
//! | `badges` | by index in the status list: serials, last moments, and which are ended or held |
//! | `spans`, `clearances` | by the same index, for each respirator, how the clearance stands and until when |
//! | `unclaimed_after_days` | where badges that nobody handed over open no gate: after how many days |
//!
//! The columns are bytes in base64url, those that gain by it deflated (RFC 1950), and are undone when first asked for:
//! a gate that answers one badge does not unpack a hundred thousand.

mod answer;
mod columns;
mod current;
mod make;
mod open;

use sellion_rules::policy::Listed;
use serde::{Deserialize, Serialize};

use crate::keys::KeyError;
use crate::token::TokenError;

pub use answer::{Moment, Told};
pub use columns::BadgeColumns;
pub use current::{CURRENT_TYP, Current};
pub use make::{Clearance, Draft, Made};
pub use open::Pack;

/// The kind of document, in its header.
pub const TYP: &str = "sellion-gate-pack+jwt";

/// A respirator that the gate accepts, now or later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PackRespirator {
    /// The respirator, and what makes it one of a class.
    #[serde(flatten)]
    pub listed: Listed,
    /// Its number, as printed badges name it.
    pub number: i32,
    /// Make, model, style and size in words.
    pub name: String,
}

/// Why a pack cannot be used, or made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PackError {
    /// The signature, the key or the kind of document is wrong.
    #[error(transparent)]
    Signed(#[from] TokenError),
    /// Genuine, and yet not what a pack holds: it comes from another version of the program.
    #[error("the pack holds {0} that cannot be read: it comes from another version of the program")]
    Content(&'static str),
    /// Its keys cannot be read.
    #[error("the keys in the pack cannot be read: {0}")]
    Keys(#[from] KeyError),
    /// The crypto library could not sign.
    #[error("the pack could not be signed")]
    Sign,
}
