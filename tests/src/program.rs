//! The program `sellion`, as tests run it.

use std::{
    path::{Path, PathBuf},
    process::Command,
    sync::OnceLock,
};

/// The program, which cargo puts next to the folder of the tests; built first, so that it is never an older one.
///
/// # Panics
///
/// When it cannot be built.
pub fn program() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        // Of the whole workspace, as the tests are: built for itself it would build its libraries once more.
        let done = Command::new(env!("CARGO"))
            .args(["build", "--quiet", "--workspace", "--bin", "sellion"])
            .status();
        assert!(done.expect("cargo runs").success(), "the program cannot be built");
        let tests = std::env::current_exe().expect("the tests are somewhere");
        tests.ancestors().nth(2).expect("they are in a folder of a build").join("sellion")
    })
}
