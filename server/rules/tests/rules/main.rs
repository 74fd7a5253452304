//! The rules against the published texts: each check names its source and the fact it stands for.

mod attempt_closing;
mod attempt_doses;
mod attempt_fitting;
mod attempt_properties;
mod attempt_random;
mod checker;
mod clearance;
mod dates;
mod day;
mod first_dose;
mod gate;
mod ladder;
mod plan;
mod refusals;
mod respirator;
mod roles;
mod ruleset;
mod ruleset_combine;
mod ruleset_methods;
mod ruleset_mistakes;
mod ruleset_others;
mod ruleset_random;
#[cfg(feature = "openapi")]
mod schema;
mod screening;
mod supplies;
mod support;
mod wire;
