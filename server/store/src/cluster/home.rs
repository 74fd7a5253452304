//! The folder that holds everything of one private database, and the lock that gives it to one process.
//!
//! ```text
//! HOME/lock      held for life by the process that owns the home; holds its process number
//! HOME/data/     the database itself, owned by the database's user
//! HOME/run/      the socket, unless the path is too long or unfit for one
//! HOME/log/      what PostgreSQL says, one file for each start, the last few kept
//! ```

use std::{
    fs::{self, DirBuilder, File, OpenOptions, Permissions, TryLockError},
    io::{self, Read, Seek, Write},
    os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt},
    path::{Path, PathBuf},
    time::Duration,
};

use rustix::process::Pid;

use super::{
    error::ClusterError,
    owner::Owner,
    processes::{Standing, look, wait_until},
};

/// A home that this process owns until the value is dropped.
#[derive(Debug)]
pub(super) struct Home {
    root: PathBuf,
    _lock: Lock,
}

impl Home {
    /// Makes the folder where it is missing and locks it.
    pub(super) fn open(path: &Path) -> Result<Self, ClusterError> {
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(path)
            .map_err(|error| ClusterError::folder("create", path, &error))?;
        // Every later comparison (working folders of processes, the socket's folder) is made on the real
        // path.
        let root = fs::canonicalize(path).map_err(|error| ClusterError::folder("open", path, &error))?;
        let lock = lock(&root)?;
        let home = Self { root, _lock: Lock(lock) };
        make_private(&home.logs())?;
        Ok(home)
    }

    pub(super) fn root(&self) -> &Path {
        &self.root
    }

    pub(super) fn data(&self) -> PathBuf {
        self.root.join("data")
    }

    pub(super) fn run(&self) -> PathBuf {
        self.root.join("run")
    }

    pub(super) fn logs(&self) -> PathBuf {
        self.root.join("log")
    }

    /// The major version that wrote the stored database, or nothing where there is none yet.
    pub(super) fn stored_version(&self) -> Result<Option<String>, ClusterError> {
        let data = self.data();
        let file = data.join("PG_VERSION");
        match fs::read_to_string(&file) {
            Ok(text) => Ok(Some(text.trim().to_owned())),
            Err(error) if error.kind() == io::ErrorKind::NotFound => match fs::read_dir(&data) {
                Ok(mut entries) => match entries.next() {
                    Some(_) => Err(ClusterError::NotADatabase { data }),
                    None => Ok(None),
                },
                Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
                Err(error) => Err(ClusterError::folder("read", &data, &error)),
            },
            Err(error) => Err(unreadable(&data, &file, &error)),
        }
    }

    /// Lets the database's user pass through the home to its own folders. Listing stays closed, and folders
    /// above the home are not ours to open.
    pub(super) fn let_pass(&self, owner: &Owner) -> Result<(), ClusterError> {
        let meta =
            fs::metadata(&self.root).map_err(|error| ClusterError::folder("read", &self.root, &error))?;
        if !owner.switch || meta.mode() & 0o001 != 0 || meta.uid() == owner.uid {
            return Ok(());
        }
        fs::set_permissions(&self.root, Permissions::from_mode(meta.mode() & 0o7777 | 0o001))
            .map_err(|error| ClusterError::folder("open for the database's user", &self.root, &error))
    }
}

/// The lock of a home.
///
/// It is given back by name and not only by closing the file: a program that another thread is just starting may hold
/// a copy of the open file for a moment, and with it the lock.
#[derive(Debug)]
struct Lock(File);

impl Drop for Lock {
    fn drop(&mut self) {
        if let Err(error) = self.0.unlock() {
            tracing::warn!(%error, "the lock of the data folder could not be given back");
        }
    }
}

/// How long a dead holder's lock is waited for: what it was just starting when it was killed may hold a copy of the
/// open file until it has become the program it was to be.
const COPY_PATIENCE: Duration = Duration::from_secs(10);

/// A stored database that cannot be read most often belongs to somebody else, which is the better sentence.
fn unreadable(data: &Path, file: &Path, error: &io::Error) -> ClusterError {
    match Owner::choose(data, true) {
        Err(foreign @ ClusterError::ForeignOwner { .. }) => foreign,
        _ => ClusterError::folder("read", file, error),
    }
}

/// Takes the home's lock. The system gives it back when the process ends in whatever way, so that a lock
/// file left behind never stands in the way of the next start.
fn lock(root: &Path) -> Result<File, ClusterError> {
    let path = root.join("lock");
    let failed = |error: io::Error| ClusterError::folder("lock", &path, &error);
    let mut file = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&path)
        .map_err(failed)?;
    let mut taken = file.try_lock();
    if matches!(taken, Err(TryLockError::WouldBlock)) {
        let pid = holder(&mut file);
        if pid.is_some_and(|pid| is_dead(pid, root)) {
            wait_until(COPY_PATIENCE, || {
                taken = file.try_lock();
                !matches!(taken, Err(TryLockError::WouldBlock))
            });
        }
        if matches!(taken, Err(TryLockError::WouldBlock)) {
            let pid = pid.and_then(|pid| pid.as_raw_pid().try_into().ok());
            return Err(ClusterError::InUse { home: root.to_owned(), pid });
        }
    }
    if let Err(TryLockError::Error(error)) = taken {
        return Err(failed(error));
    }
    // The number only serves the sentence above: a disk too full to hold it must not stop a start by
    // itself.
    let noted =
        file.set_len(0).and_then(|()| file.rewind()).and_then(|()| writeln!(file, "{}", std::process::id()));
    if let Err(error) = noted {
        tracing::warn!(%error, "the process number could not be written to the lock file");
    }
    Ok(file)
}

/// Who wrote its number into the lock file.
fn holder(file: &mut File) -> Option<Pid> {
    let mut text = String::new();
    file.read_to_string(&mut text).ok()?;
    Pid::from_raw(text.trim().parse().ok()?)
}

fn is_dead(pid: Pid, root: &Path) -> bool {
    matches!(look(pid, root), Standing::Gone | Standing::Zombie)
}

/// Makes a folder of the home that only this process's user may enter.
pub(super) fn make_private(path: &Path) -> Result<(), ClusterError> {
    match DirBuilder::new().mode(0o700).create(path) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists && path.is_dir() => Ok(()),
        Err(error) => Err(ClusterError::folder("create", path, &error)),
    }
}

/// Whether `path` is a folder of `uid` alone, and not a link to one.
pub(super) fn is_private_to(path: &Path, uid: u32) -> bool {
    fs::symlink_metadata(path)
        .is_ok_and(|meta| meta.is_dir() && meta.uid() == uid && meta.mode() & 0o077 == 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lock_names_its_holder_and_ends_with_it() {
        let top = tempfile::tempdir().unwrap();
        let home = Home::open(top.path()).unwrap();
        match Home::open(top.path()).unwrap_err() {
            ClusterError::InUse { pid, .. } => assert_eq!(pid, Some(std::process::id())),
            other => panic!("{other}"),
        }
        drop(home);
        Home::open(top.path()).unwrap();
    }

    #[test]
    fn a_copy_of_the_open_lock_file_does_not_keep_the_home() {
        let top = tempfile::tempdir().unwrap();
        let held = Lock(lock(top.path()).unwrap());
        let copy = held.0.try_clone().unwrap();
        drop(held);
        Home::open(top.path()).unwrap();
        drop(copy);
    }

    #[test]
    fn a_copy_that_outlives_a_dead_holder_is_waited_for() {
        let top = tempfile::tempdir().unwrap();
        let mut dead = std::process::Command::new("true").spawn().unwrap();
        dead.wait().unwrap();
        let mut copy = lock(top.path()).unwrap();
        copy.set_len(0).unwrap();
        copy.rewind().unwrap();
        write!(copy, "{}", dead.id()).unwrap();
        let becoming_another_program = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(300));
            drop(copy);
        });
        Home::open(top.path()).unwrap();
        becoming_another_program.join().unwrap();
    }

    #[test]
    fn a_folder_with_other_things_in_it_is_not_touched() {
        let top = tempfile::tempdir().unwrap();
        let home = Home::open(top.path()).unwrap();
        assert_eq!(home.stored_version().unwrap(), None);
        fs::create_dir(home.data()).unwrap();
        assert_eq!(home.stored_version().unwrap(), None);
        fs::write(home.data().join("letter.txt"), "dear").unwrap();
        assert!(matches!(home.stored_version().unwrap_err(), ClusterError::NotADatabase { .. }));
        fs::write(home.data().join("PG_VERSION"), "15\n").unwrap();
        assert_eq!(home.stored_version().unwrap().as_deref(), Some("15"));
    }
}
