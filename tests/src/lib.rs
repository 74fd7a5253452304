//! Shared pieces of the end-to-end tests.

pub mod database;
pub mod harness;
pub mod program;
