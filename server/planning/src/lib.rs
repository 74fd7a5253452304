//! Statistics and plans of a fit-testing day, as pure functions.
//!
//! Nothing here reads a file, a clock, a database or the network: measurements and moments come in as arguments, plans
//! and findings come out as values, and no input makes a function panic. Whatever is not measured is an assumption that
//! travels with the answer, with its unit and where it comes from.

pub mod cusum;
pub mod forecast;
pub mod normal;
pub mod pace;
pub mod retests;
pub mod run_length;
pub mod usage;
pub mod weighing;
