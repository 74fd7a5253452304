//! The parts of a gate without a server: its clock, its scans on the disk, and the pack it holds.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

mod doubts;
mod packs;
mod scans;
