//! Statistics and plans against hand arithmetic, published tables and simulation.

#![allow(clippy::float_cmp, reason = "whole and half numbers are exact")]

mod bottles;
mod cusum;
mod forecast;
mod forecast_properties;
mod pace;
mod retests;
#[cfg(feature = "openapi")]
mod schema;
mod support;
mod usage;
