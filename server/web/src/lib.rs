//! The only crate that knows HTTP and JSON: actix-web and utoipa.
//!
//! Handlers are thin: they say who may call ([`auth::Caller`]), run one unit of work in the store,
//! and map the result. Everything that goes wrong leaves as problem details (RFC 9457).

mod attempt;
mod audit;
mod auth;
mod badge;
mod badge_sheet;
mod bottle;
mod call;
mod clearance;
mod clock;
mod day;
mod device;
mod envelope;
mod extract;
mod fill;
mod fill_gap;
mod gate;
mod health;
mod keys;
mod look_back;
mod lot;
mod page;
mod pages;
mod parameters;
mod permission;
mod person;
mod preparation;
mod problem;
mod reading_file;
mod recording;
mod referral;
mod respirator;
mod roster;
mod routes;
mod rule_set;
mod runner_list;
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
mod stop;
mod unread;
mod user;
mod version;
mod visit;
mod words;

pub use actix_web::dev::ServerHandle;
pub use auth::hash_password;
pub use clock::Clock;
pub use keys::check_signing_keys;
pub use secret::Secret;
pub use server::{Config, Running, run, usual_fonts};
pub use spec::openapi_json;
