//! What regulations and the trade say about a respirator fit-testing day, as pure functions.
//!
//! Nothing here reads a file, a clock, a database or the network: time and facts come in as arguments, answers and
//! refusals come out as values, and no input makes a function panic. Whatever runs offline gives the same answers as
//! the server because both call this crate.

pub mod alarm;
pub mod attempt;
pub mod badge;
pub mod clearance;
pub mod dates;
pub mod day;
pub mod eligibility;
pub mod equipment;
pub mod filter;
pub mod fit_factor;
pub mod gate;
pub mod gs1;
pub mod ladder;
pub mod lead_entry;
pub mod level;
pub mod look_back;
pub mod method;
pub mod outlook;
pub mod permission;
pub mod person;
pub mod policy;
pub mod printed_expiry;
pub mod reading_file;
pub mod refusal;
pub mod respirator;
mod role;
pub mod roles;
pub mod roster;
pub mod ruleset;
pub mod screening;
pub mod sequence;
pub mod signing_key;
pub mod size_hint;
pub mod statistics;
pub mod stock;
pub mod stream;
pub mod supplies;
pub mod text;
pub mod text_enum;
pub mod twin;

pub use refusal::{Code, FactValue, Refusal};
pub use text_enum::UnknownText;
