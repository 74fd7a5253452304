//! Builds again when a migration changes: they are part of the program, but no Rust file names them one by one.

fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
