//! The only crate that knows HTTP and JSON: actix-web and utoipa.
//!
//! Handlers are thin: they say who may call ([`auth::Caller`]), run one unit of work in the store,
//! and map the result. Everything that goes wrong leaves as problem details (RFC 9457).

mod attempt;
mod audit;
mod auth;
mod badge;
mod badge_sheet;
mod balance;
mod bottle;
mod call;
mod clearance;
mod clock;
mod day;
mod device;
mod envelope;
mod equipment;
mod extract;
mod fill;
mod gate;
mod health;
mod keys;
mod label;
mod lot;
mod movement;
mod page;
mod pages;
mod parameters;
mod permission;
mod person;
mod place;
mod placement;
mod preparation;
mod problem;
mod reading_file;
mod recording;
mod referral;
mod respirator;
mod roster;
mod routes;
mod rule_set;
mod scan;
mod screening;
mod secret;
mod server;
mod session;
mod site;
mod size_hint;
mod spec;
mod state;
mod station;
mod stream;
mod unread;
mod user;
mod version;
mod visit;
mod weighing;
mod words;

pub use auth::hash_password;
pub use clock::Clock;
pub use keys::check_signing_keys;
pub use secret::Secret;
pub use server::{Config, Running, ServerHandle, run, usual_fonts};
pub use spec::openapi_json;
pub use stream::StreamLimits;
