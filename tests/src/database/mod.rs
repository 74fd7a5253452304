//! Databases for tests: one server for the whole run, one migrated template, one database per test.
//!
//! Where a container engine answers, testcontainers runs Postgres from the image of `docker/`; otherwise a
//! private cluster is made from the installed server programs, with fsync off. `SELLION_TEST_DATABASE`
//! (`auto`, `container`, `private`) overrides the choice, and whichever it was is printed once.
//!
//! The server lives in a process of its own (`test-postgres`) and ends when that process's input closes. A
//! test process that is killed therefore leaves no server behind, which a destructor could not promise:
//! statics are never dropped, and testcontainers removes nothing for a process that was killed.
//! `tests/run.sh` starts one for the whole run and names it in `SELLION_TEST_DATABASE_URL`; without that
//! variable each test binary starts its own.

mod choice;
mod container;
mod fresh;
mod private;
mod server;
mod template;
mod url;

pub use choice::{Choice, RunningServer};
pub use container::{ContainerServer, Engine, OWN_IMAGE, engine, image_setting};
pub use fresh::TestDatabase;
pub use server::{Keeper, keeper_program, server_url};
pub use url::with_database;
