//! The server as its clients see it: real HTTP, a real database, signed-in actors.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

mod attempts;
mod badges;
mod batches;
mod calls;
mod check_in;
mod clearances;
mod days;
mod equipment;
mod faults;
mod first_dose;
mod forecasts;
mod garbage;
mod gate_clearances;
mod gate_devices;
mod gates;
mod golden_day;
mod labels;
mod ladder;
mod late_supplies;
mod ledger;
mod ledger_random;
mod look_back;
mod look_back_random;
mod matrix;
mod measured;
mod noticed;
mod own_supplies;
mod people;
mod policies;
mod records;
mod replay;
mod respirators;
mod roster;
mod rule_sets;
mod scans;
mod screenings;
mod sign_in;
mod signing_keys;
mod spec;
mod stops;
mod stream;
mod stream_ends;
mod supplies;
mod users;
