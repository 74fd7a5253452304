//! The rules against the published texts: each check names its source and the fact it stands for.

mod attempt_closing;
mod attempt_doses;
mod attempt_fitting;
mod attempt_measuring;
mod attempt_noticing;
mod attempt_properties;
mod attempt_random;
mod checker;
mod clearance;
mod dates;
mod day;
mod eligibility;
mod first_dose;
mod fit_factor;
mod fit_factor_exact;
mod fit_factor_properties;
mod gate;
mod ladder;
mod plan;
mod reading_file;
mod reading_file_mapping;
mod refusals;
mod respirator;
mod roles;
mod ruleset;
mod ruleset_combine;
mod ruleset_mistakes;
#[cfg(feature = "openapi")]
mod schema;
mod screening;
mod size_hint;
mod supplies;
mod support;
mod wire;
