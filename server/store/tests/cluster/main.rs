//! The private PostgreSQL on the real server programs: what must survive a killed process, a full disk or a
//! second start, and what each refusal says.
//!
//! Runs as root and as an ordinary user. What only root can set up (a small disk, another user) says loudly
//! on standard error when it was left out.

#![expect(clippy::unwrap_used, reason = "a step that fails here is a failed test")]

mod disk_full;
mod killed;
mod lifecycle;
mod other_process;
mod refusals;
mod support;
