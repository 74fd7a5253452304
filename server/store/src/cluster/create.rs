//! Making a new, empty database folder with `initdb`.

use std::{
    ffi::OsString,
    fs::{self, File},
    path::{Path, PathBuf},
    time::Duration,
};

use rustix::process::Signal;

use super::{
    Durability,
    error::ClusterError,
    home::{self, Home},
    logs::{self, Log},
    owner::Owner,
    processes,
    programs::Programs,
    socket::ROLE,
    spawn::{LOCALE, Spawn},
};

/// What a new database and its first start take on disk, with some room to work in: 40 MB measured.
const NEEDED_BYTES: u64 = 64 * 1024 * 1024;

/// Beginning of the names of folders under construction.
const SIDE_PREFIX: &str = "data.new.";

/// Makes the database beside its place and moves it there when it is whole, so that a start interrupted at
/// any moment never finds half a database.
pub(super) fn create(
    home: &Home,
    programs: &Programs,
    owner: &Owner,
    durability: Durability,
) -> Result<(), ClusterError> {
    let root = home.root();
    let free_bytes = logs::free_bytes(root);
    if free_bytes < NEEDED_BYTES {
        return Err(ClusterError::DiskFull { folder: root.to_owned(), free_bytes, line: None });
    }
    // A name of its own, because the initdb of a killed start may still be writing to the one before.
    let side = root.join(format!("{SIDE_PREFIX}{}", std::process::id()));
    let made = home::make_private(&side)
        .and_then(|()| owner.give(&side))
        .and_then(|()| initialise(home, programs, owner, durability, &side))
        .and_then(|()| move_into_place(home, &side));
    if made.is_err() {
        remove_unfinished(root);
    }
    made
}

fn initialise(
    home: &Home,
    programs: &Programs,
    owner: &Owner,
    durability: Durability,
    side: &Path,
) -> Result<(), ClusterError> {
    let mut log = Log::rotate(&home.logs(), "initdb");
    let spawn = Spawn { programs, owner, folder: side, log: log.open()? };
    // initdb does not heed gentler signals in all its steps; what it leaves behind is removed by the next
    // start.
    let mut child = spawn.start("initdb", arguments(side, durability), Signal::KILL)?;
    let status = child.wait().map_err(|error| ClusterError::folder("wait for initdb in", side, &error))?;
    if status.success() { Ok(()) } else { Err(log.explain("initdb", status.to_string(), side)) }
}

fn arguments(side: &Path, durability: Durability) -> Vec<OsString> {
    let mut arguments: Vec<OsString> = vec!["-D".into(), side.into()];
    // Trust is enough: only the database's user and root can reach the socket, and nothing listens on a
    // network.
    let fixed =
        ["-U", ROLE, "-A", "trust", "-E", "UTF8", "--lc-collate=C", "--data-checksums", "--no-instructions"];
    arguments.extend(fixed.map(OsString::from));
    arguments.push(format!("--locale={LOCALE}").into());
    if durability == Durability::Throwaway {
        arguments.push("--no-sync".into());
    }
    arguments
}

fn move_into_place(home: &Home, side: &Path) -> Result<(), ClusterError> {
    let data = home.data();
    fs::rename(side, &data).map_err(|error| ClusterError::folder("create", &data, &error))?;
    // The new name must survive a power cut as well as what is below it.
    File::open(home.root())
        .and_then(|folder| folder.sync_all())
        .map_err(|error| ClusterError::folder("write", home.root(), &error))
}

/// Removes what starts that were killed have left unfinished.
pub(super) fn remove_unfinished(root: &Path) {
    let entries = fs::read_dir(root).into_iter().flatten().flatten();
    let unfinished: Vec<PathBuf> = entries
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(SIDE_PREFIX))
        .map(|entry| entry.path())
        .collect();
    for folder in unfinished {
        // A killed initdb leaves a child that goes on writing for a moment.
        for pid in processes::working_in(&folder) {
            processes::end(pid, &folder, &[(Signal::KILL, Duration::from_secs(5))]);
        }
        if let Err(error) = fs::remove_dir_all(&folder) {
            tracing::warn!(%error, folder = %folder.display(), "an unfinished database could not be removed");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_unfinished_databases_are_removed() {
        let root = tempfile::tempdir().unwrap();
        for name in ["data", "data.new.12", "data.new.x", "run"] {
            fs::create_dir_all(root.path().join(name).join("inner")).unwrap();
        }
        remove_unfinished(root.path());
        let mut left: Vec<_> =
            fs::read_dir(root.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        left.sort();
        assert_eq!(left, ["data", "run"]);
    }

    #[test]
    fn checksums_are_always_on_and_syncing_only_off_for_throwaway_databases() {
        let durable = arguments(Path::new("/d"), Durability::Durable);
        assert!(durable.contains(&"--data-checksums".into()) && !durable.contains(&"--no-sync".into()));
        assert!(arguments(Path::new("/d"), Durability::Throwaway).contains(&"--no-sync".into()));
    }
}
