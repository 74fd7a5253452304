//! The clearance badge: signed token, printed code, serial, and the sheets that carry them; and the labels of supplies.
//!
//! Nothing here reads a clock, a database or the network: the moment of a check, the keys and any extra
//! fonts come in as arguments, so a gate without a network runs the very same code as the server.
//!
//! The path of a badge: [`token::sign`] makes an ES256 JWT, [`code::pack`] turns it into the text of the QR
//! code, [`sheet::render`] prints it. At the gate: [`code::unpack`], then [`token::verify`]. A gate that answers alone has
//! a [`pack`].

pub mod base45;
pub mod code;
pub mod jws;
pub mod keys;
pub mod label;
pub mod pack;
pub mod qr;
pub mod reading;
pub mod serial;
pub mod sheet;
pub mod status_list;
pub mod token;

pub use keys::{KeyRing, SigningKey, VerifyingKey};
pub use label::{Label, LabelKind};
pub use pack::Pack;
pub use reading::Read;
pub use serial::Serial;
pub use token::{BadgeClaims, ClearedRespirator, TokenError};
