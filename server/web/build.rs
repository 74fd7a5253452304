//! Has the screens embedded anew when they were built anew. The folder is made, because a folder that is not there
//! would have this crate built again every time.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let built = "../../clients/web/dist";
    // Where nothing may be written, there is nothing to watch either.
    let _ = std::fs::create_dir_all(built);
    // Debug builds read the folder when they are asked for a file.
    if std::env::var("PROFILE").is_ok_and(|profile| profile == "release") {
        println!("cargo:rerun-if-changed={built}");
    }
}
