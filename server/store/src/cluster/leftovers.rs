//! What an earlier run may have left in a home: processes, the postmaster's lock file, a socket.
//!
//! Called only by the holder of the home's lock, so no other Sellion is at work in it.

use std::{
    fs, io,
    path::{Path, PathBuf},
    time::Duration,
};

use rustix::process::{Pid, Signal};

use super::{
    error::ClusterError,
    processes::{self, Standing},
    socket,
};

/// How long a dead postmaster may wait for its parent to take notice; seen to last about a second under a
/// normal process number 1, and for ever under one that never looks.
const ZOMBIE_PATIENCE: Duration = Duration::from_secs(5);

/// Fast shutdown, then immediate shutdown (the next start recovers), then the end.
const STOP_POSTMASTER: [(Signal, Duration); 3] = [
    (Signal::INT, Duration::from_secs(60)),
    (Signal::QUIT, Duration::from_secs(10)),
    (Signal::KILL, Duration::from_secs(5)),
];

/// Backends without a postmaster end by themselves; these only hasten it. What they had committed is in the
/// log.
const STOP_BACKEND: [(Signal, Duration); 2] =
    [(Signal::TERM, Duration::from_secs(5)), (Signal::KILL, Duration::from_secs(5))];

/// Clears the way for a start on `data` with its socket in `socket_folder`.
pub(super) fn clear(data: &Path, socket_folder: &Path) -> Result<(), ClusterError> {
    let lock = LockFile::read(data)?;
    let must_go = match &lock {
        LockFile::Missing => false,
        LockFile::Garbled => true,
        LockFile::Of { pid, sockets } => postmaster_is_stale(*pid, sockets, data, socket_folder)?,
    };
    for pid in processes::working_in(data) {
        tracing::warn!(pid = pid.as_raw_pid(), "ending a PostgreSQL process left over from an earlier run");
        if !processes::end(pid, data, &STOP_BACKEND) {
            return Err(ClusterError::LeftOver { data: data.to_owned(), pid: pid.as_raw_pid() });
        }
    }
    // Safe only now: with no process left at work in the folder, the file guards nothing.
    if must_go {
        let path = LockFile::path(data);
        match fs::remove_file(&path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                return Err(ClusterError::folder("remove", &path, &error));
            }
            _ => tracing::info!(path = %path.display(), "removed a stale lock file"),
        }
    }
    socket::clear(socket_folder);
    Ok(())
}

/// Brings the process that the lock file names to its end if it is a server of ours; says whether the file
/// must be removed because PostgreSQL would take its number for a living server's.
fn postmaster_is_stale(
    pid: Pid,
    sockets: &str,
    data: &Path,
    socket_folder: &Path,
) -> Result<bool, ClusterError> {
    match processes::look(pid, data) {
        Standing::Gone => Ok(false),
        Standing::Foreign => Ok(true),
        Standing::Zombie => {
            Ok(!processes::wait_until(ZOMBIE_PATIENCE, || processes::look(pid, data) != Standing::Zombie))
        }
        // A server with another socket was started by hand, perhaps for repair: not ours to stop.
        Standing::Ours if Path::new(sockets) != socket_folder => {
            Err(ClusterError::OtherServer { data: data.to_owned(), pid: pid.as_raw_pid() })
        }
        Standing::Ours => {
            tracing::warn!(
                pid = pid.as_raw_pid(),
                "stopping a PostgreSQL that outlived the Sellion that started it"
            );
            if processes::end(pid, data, &STOP_POSTMASTER) {
                return postmaster_is_stale_after_stop(pid, data);
            }
            Err(ClusterError::LeftOver { data: data.to_owned(), pid: pid.as_raw_pid() })
        }
    }
}

/// After a stop the number may still stand for a zombie, or already for somebody else.
fn postmaster_is_stale_after_stop(pid: Pid, data: &Path) -> Result<bool, ClusterError> {
    Ok(!processes::wait_until(ZOMBIE_PATIENCE, || processes::look(pid, data) == Standing::Gone))
}

/// What `postmaster.pid` says: the number in its first line, the folder of the socket in its fifth.
enum LockFile {
    Missing,
    /// Empty or cut short, as a full disk leaves it.
    Garbled,
    Of {
        pid: Pid,
        sockets: String,
    },
}

impl LockFile {
    fn path(data: &Path) -> PathBuf {
        data.join("postmaster.pid")
    }

    fn read(data: &Path) -> Result<Self, ClusterError> {
        let path = Self::path(data);
        match fs::read(&path) {
            Ok(bytes) => Ok(Self::parse(&String::from_utf8_lossy(&bytes))),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Self::Missing),
            Err(error) => Err(ClusterError::folder("read", &path, &error)),
        }
    }

    fn parse(text: &str) -> Self {
        let mut lines = text.lines();
        // A negative number marks a single-user server.
        let number = lines.next().and_then(|line| line.trim().parse::<i32>().ok()).map(i32::saturating_abs);
        match number.and_then(Pid::from_raw) {
            Some(pid) => Self::Of { pid, sockets: lines.nth(3).unwrap_or_default().to_owned() },
            None => Self::Garbled,
        }
    }
}

/// The process and the socket folder that the lock file of `data` names.
pub(super) fn named_in_lock_file(data: &Path) -> Option<(Pid, String)> {
    match LockFile::read(data) {
        Ok(LockFile::Of { pid, sockets }) => Some((pid, sockets)),
        _ => None,
    }
}

/// Whether the server `pid` says in its lock file that it takes connections.
pub(super) fn says_ready(data: &Path, pid: Pid) -> bool {
    let Ok(bytes) = fs::read(LockFile::path(data)) else {
        return false;
    };
    let text = String::from_utf8_lossy(&bytes);
    let line = |number: usize| text.lines().nth(number - 1).map(str::trim);
    line(1) == Some(&pid.as_raw_pid().to_string()) && line(8) == Some("ready")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_file_is_removed_if_it_is_garbled_or_names_a_stranger_and_kept_if_its_process_is_gone() {
        let data = tempfile::tempdir().unwrap();
        let path = LockFile::path(data.path());
        let stranger = std::process::id().to_string();
        // Above the highest number that Linux gives out (2^22).
        for (text, stays) in
            [("", false), ("nonsense\n", false), (stranger.as_str(), false), ("5000000\n", true)]
        {
            fs::write(&path, text).unwrap();
            fs::write(socket::file(data.path()), "").unwrap();
            clear(data.path(), data.path()).unwrap();
            assert_eq!(path.exists(), stays, "{text:?}");
            assert!(!socket::file(data.path()).exists());
        }
    }

    #[test]
    fn ready_needs_the_right_process_and_the_word() {
        let data = tempfile::tempdir().unwrap();
        let pid = rustix::process::getpid();
        let write = |number: i32, word: &str| {
            let text = format!("{number}\n/d\n1767596400\n5432\n/d/run\n\n  5432  1\n{word}   \n");
            fs::write(LockFile::path(data.path()), text).unwrap();
        };
        assert!(!says_ready(data.path(), pid));
        write(pid.as_raw_pid(), "starting");
        assert!(!says_ready(data.path(), pid));
        write(pid.as_raw_pid() + 1, "ready");
        assert!(!says_ready(data.path(), pid));
        write(pid.as_raw_pid(), "ready");
        assert!(says_ready(data.path(), pid));
    }
}
