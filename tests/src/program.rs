//! The programs, as tests run them.

use std::{
    path::{Path, PathBuf},
    process::Command,
    sync::OnceLock,
};

/// The program `sellion`.
///
/// # Panics
///
/// When it cannot be built.
pub fn program() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| built("sellion"))
}

/// The program `sellion-gate`.
///
/// # Panics
///
/// When it cannot be built.
pub fn gate_program() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| built("sellion-gate"))
}

/// A program, which cargo puts next to the folder of the tests; built first, so that it is never an older one,
/// and of the whole workspace, as the tests are: built for itself it would build its libraries once more.
fn built(name: &str) -> PathBuf {
    let done = Command::new(env!("CARGO")).args(["build", "--quiet", "--workspace", "--bin", name]).status();
    assert!(done.expect("cargo runs").success(), "{name} cannot be built");
    let asks = std::env::current_exe().expect("whoever asks is somewhere");
    // Tests lie in a folder of their own in that of the build; other programs lie beside the one that is asked for.
    let folder = asks.ancestors().skip(1).find(|folder| !folder.ends_with("deps"));
    folder.expect("a folder of a build").join(name)
}
