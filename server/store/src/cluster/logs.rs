//! PostgreSQL's own messages: one file for each start, and what they say about a failure.

use std::{
    fs::{self, File, OpenOptions},
    io::{Read, Seek, SeekFrom},
    os::unix::fs::OpenOptionsExt,
    path::{Path, PathBuf},
};

use super::error::ClusterError;

/// How many logs of earlier starts are kept beside the present one.
const KEPT: u32 = 5;

/// How much of the end of a log is read for the reason of a failure, in bytes.
const TAIL_BYTES: u64 = 64 * 1024;

/// Below this nothing useful can be written any more: one block of a table and one of its index, in bytes.
const NO_ROOM_BYTES: u64 = 16 * 1024;

/// A log that a program writes to, and where this run's part of it begins.
#[derive(Debug)]
pub(super) struct Log {
    pub(super) path: PathBuf,
    start: u64,
}

impl Log {
    /// Moves earlier logs of this name one number up, forgets the oldest, and names the new one.
    pub(super) fn rotate(folder: &Path, name: &str) -> Self {
        let numbered = |number: u32| match number {
            0 => folder.join(format!("{name}.log")),
            _ => folder.join(format!("{name}.{number}.log")),
        };
        for number in (0..KEPT).rev() {
            // A missing predecessor is the normal case; renaming onto the oldest forgets it.
            if numbered(number).exists()
                && let Err(error) = fs::rename(numbered(number), numbered(number + 1))
            {
                tracing::warn!(%error, "an earlier log of PostgreSQL could not be moved aside");
            }
        }
        Self { path: numbered(0), start: 0 }
    }

    /// Opens the log for a program to write to; later messages count from here.
    pub(super) fn open(&mut self) -> Result<File, ClusterError> {
        let file = OpenOptions::new()
            .append(true)
            .create(true)
            .mode(0o600)
            .open(&self.path)
            .map_err(|error| ClusterError::folder("write", &self.path, &error))?;
        self.start = file.metadata().map_or(0, |meta| meta.len());
        Ok(file)
    }

    /// What was written since [`Log::open`], at most the last part of it.
    pub(super) fn tail(&self) -> String {
        let read = || -> std::io::Result<String> {
            let mut file = File::open(&self.path)?;
            let start = self.start.max(file.metadata()?.len().saturating_sub(TAIL_BYTES));
            file.seek(SeekFrom::Start(start))?;
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes)?;
            Ok(String::from_utf8_lossy(&bytes).into_owned())
        };
        read().unwrap_or_default()
    }

    /// The error for a program that ended as `status` says, working in `data`.
    pub(super) fn explain(&self, program: &'static str, status: String, data: &Path) -> ClusterError {
        let tail = self.tail();
        let line = last_of_weight(&tail);
        let free_bytes = free_bytes(data);
        if speaks_of_full_disk(&tail) || free_bytes < NO_ROOM_BYTES {
            return ClusterError::DiskFull { folder: data.to_owned(), free_bytes, line };
        }
        ClusterError::Failed { program, status, line, log: self.path.clone() }
    }
}

fn speaks_of_full_disk(tail: &str) -> bool {
    ["No space left on device", "Disk quota exceeded"].iter().any(|words| tail.contains(words))
}

/// The last message that is an error, without time and process number; else the last line at all.
pub(super) fn last_of_weight(tail: &str) -> Option<String> {
    let lines: Vec<&str> = tail.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    let weighty = lines.iter().rev().find_map(|line| {
        ["PANIC:", "FATAL:", "ERROR:", "error:"].iter().find_map(|word| line.find(word).map(|at| &line[at..]))
    });
    weighty.or(lines.last().copied()).map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// What an ordinary user may still write on the disk that holds `path`, in bytes. The path itself may be
/// missing.
pub(super) fn free_bytes(path: &Path) -> u64 {
    path.ancestors()
        .find_map(|folder| rustix::fs::statvfs(folder).ok())
        .map_or(0, |disk| disk.f_bavail.saturating_mul(disk.f_frsize))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    #[test]
    fn logs_are_numbered_by_start_and_the_oldest_goes() {
        let folder = tempfile::tempdir().unwrap();
        for start in 0..=KEPT + 2 {
            let mut log = Log::rotate(folder.path(), "postgres");
            writeln!(log.open().unwrap(), "start {start}").unwrap();
        }
        let newest = fs::read_to_string(folder.path().join("postgres.log")).unwrap();
        assert_eq!(newest, format!("start {}\n", KEPT + 2));
        let oldest = fs::read_to_string(folder.path().join(format!("postgres.{KEPT}.log"))).unwrap();
        assert_eq!(oldest, "start 2\n");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count() as u32, KEPT + 1);
    }

    #[test]
    fn only_this_runs_messages_count() {
        let folder = tempfile::tempdir().unwrap();
        let mut log = Log::rotate(folder.path(), "postgres");
        writeln!(log.open().unwrap(), "FATAL:  No space left on device").unwrap();
        let mut second = log.open().unwrap();
        writeln!(second, "2026-01-05 07:00:00.000 UTC [7] FATAL:  data directory has  wrong ownership")
            .unwrap();
        writeln!(second, "2026-01-05 07:00:00.000 UTC [7] LOG:  database system is shut down").unwrap();
        match log.explain("PostgreSQL", "exit status: 1".into(), folder.path()) {
            ClusterError::Failed { line, .. } => {
                assert_eq!(line.as_deref(), Some("FATAL: data directory has wrong ownership"));
            }
            other => panic!("{other}"),
        }
    }

    #[test]
    fn a_full_disk_is_read_from_the_messages() {
        let folder = tempfile::tempdir().unwrap();
        let mut log = Log::rotate(folder.path(), "postgres");
        let mut file = log.open().unwrap();
        writeln!(file, "PANIC:  could not write to file \"pg_wal/xlogtemp.9\": No space left on device")
            .unwrap();
        let sentence = log.explain("PostgreSQL", "signal: 6".into(), folder.path()).to_string();
        assert!(sentence.contains("is full") && sentence.contains("bytes are free"), "{sentence}");
        assert!(sentence.contains("PANIC: could not write"), "{sentence}");
    }

    #[test]
    fn free_space_is_known_for_a_folder_not_yet_made() {
        let folder = tempfile::tempdir().unwrap();
        assert!(free_bytes(&folder.path().join("a/b/c")) > 0);
    }
}
