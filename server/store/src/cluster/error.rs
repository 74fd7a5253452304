//! What can go wrong with the private database, each as one sentence that also says what to do.

use std::{
    io,
    path::{Path, PathBuf},
};

use super::programs::OLDEST_MAJOR;

/// How to get PostgreSQL on the systems whose folders are searched.
const INSTALL: &str = "install it with `apt-get install postgresql` (Debian, Ubuntu), \
    `dnf install postgresql-server` (Fedora, RHEL) or `brew install postgresql` (macOS)";

/// Why the private database could not be started, used or stopped. `Display` is a whole sentence for the
/// person at the terminal: it names the folder, process or version concerned and what to do about it.
#[derive(Debug, Clone, thiserror::Error)]
pub enum ClusterError {
    /// Another living process holds this home.
    #[error(
        "The data folder {} is already in use by {}: stop that one first, or choose another folder.",
        home.display(), holder(.pid)
    )]
    InUse {
        /// The folder asked for.
        home: PathBuf,
        /// The process that holds it, where it has written its number.
        pid: Option<u32>,
    },
    /// No PostgreSQL server programs on this machine.
    #[error(
        "No PostgreSQL server programs (initdb, postgres) were found on this machine: {INSTALL}, \
         or set DATABASE_URL to a database that runs elsewhere."
    )]
    NoPrograms,
    /// The folder named by [`super::Options::programs`] holds no usable programs.
    #[error(
        "The folder {} holds no working PostgreSQL server programs ({reason}): name the folder that holds \
         initdb and postgres.",
        folder.display()
    )]
    BadPrograms {
        /// The folder as given.
        folder: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// Only versions that are too old are installed.
    #[error("PostgreSQL {OLDEST_MAJOR} or newer is needed, but only version {found} was found: {INSTALL}.")]
    ProgramsTooOld {
        /// The versions found, as words for the sentence.
        found: String,
    },
    /// The stored database was made by a major version that is not installed.
    #[error(
        "The database in {} was made by PostgreSQL {made_by}, but the programs found here are version \
         {installed}: install PostgreSQL {made_by} (on Debian `apt-get install postgresql-{made_by}`), or \
         restore a backup into a new folder.",
        data.display()
    )]
    VersionMismatch {
        /// The stored database.
        data: PathBuf,
        /// The major version that wrote it.
        made_by: String,
        /// The major versions that are installed, as words for the sentence.
        installed: String,
    },
    /// The stored database belongs to another user and this process may not become that user.
    #[error(
        "The database in {} belongs to the user {owner}, not to {me}: start Sellion as {owner} or as root, \
         or choose another folder.",
        data.display()
    )]
    ForeignOwner {
        /// The stored database.
        data: PathBuf,
        /// The user it belongs to.
        owner: String,
        /// The user this process runs as.
        me: String,
    },
    /// The stored database belongs to root, as whom PostgreSQL refuses to run.
    #[error(
        "The database in {0} belongs to root, and PostgreSQL refuses to run as root: give it to another \
         user, for example with `chown -R postgres {0}`.",
        data.display()
    )]
    OwnedByRoot {
        /// The stored database.
        data: PathBuf,
    },
    /// Started as root, and there is no user to run the database as.
    #[error(
        "PostgreSQL refuses to run as root and this machine has neither a user `postgres` nor `nobody`: \
         create one, for example with `useradd --system postgres`."
    )]
    NoOtherUser,
    /// The user id of this process has no name, which `initdb` does not accept.
    #[error(
        "User id {uid} has no entry in the list of users, and PostgreSQL cannot create a database without \
         one: add a line for it to /etc/passwd or start Sellion as a named user."
    )]
    NamelessUser {
        /// The user id of this process.
        uid: u32,
    },
    /// The user of the database cannot reach its folder or programs.
    #[error(
        "The database runs as user {user}, who may not enter {}: choose a folder that user can reach (for \
         example below /var/lib), or allow it with `chmod o+x`.",
        folder.display()
    )]
    Blocked {
        /// The first folder on the way that is closed.
        folder: PathBuf,
        /// The user who is shut out.
        user: String,
    },
    /// A folder or file of the home could not be made, read or written.
    #[error(
        "Sellion cannot {doing} {}: {reason}; check that the folder exists, belongs to the user who starts \
         Sellion and can be written, or choose another.",
        path.display()
    )]
    Folder {
        /// What was tried, as a verb: "create", "read".
        doing: &'static str,
        /// The folder or file.
        path: PathBuf,
        /// The system's reason.
        reason: String,
    },
    /// `data` holds something that is not a database.
    #[error(
        "The folder {} is not empty and holds no PostgreSQL database: nothing in it was touched; move it \
         away or choose another folder.",
        data.display()
    )]
    NotADatabase {
        /// The folder found.
        data: PathBuf,
    },
    /// No folder is short enough for the socket.
    #[error(
        "The path of the data folder {} cannot carry a socket (too long, or it holds a comma) and no short \
         folder could be made in {tried}: choose a data folder with a shorter path.",
        home.display()
    )]
    NoSocketFolder {
        /// The home.
        home: PathBuf,
        /// The folders tried, as words for the sentence.
        tried: String,
    },
    /// No room left.
    #[error(
        "The disk that holds {} is full: {} bytes are free{}; make room there and start again, nothing \
         stored is lost.",
        folder.display(), free_bytes, said(.line)
    )]
    DiskFull {
        /// The folder whose disk is full.
        folder: PathBuf,
        /// What an ordinary user may still write there, in bytes.
        free_bytes: u64,
        /// What PostgreSQL said last, where it could still say something.
        line: Option<String>,
    },
    /// A PostgreSQL that is not ours works on the stored database.
    #[error(
        "A PostgreSQL server that Sellion did not start (process {pid}) is running on {}: stop it first, \
         for example with `kill -INT {pid}`.",
        data.display()
    )]
    OtherServer {
        /// The stored database.
        data: PathBuf,
        /// The postmaster's process number.
        pid: i32,
    },
    /// A process of an earlier run does not end.
    #[error(
        "PostgreSQL process {pid}, left over from an earlier run on {}, does not end: stop it with `kill \
         -KILL {pid}` or restart the machine.",
        data.display()
    )]
    LeftOver {
        /// The stored database.
        data: PathBuf,
        /// The process.
        pid: i32,
    },
    /// A program of PostgreSQL could not be run or ended with an error.
    #[error("{program} failed ({status}){}; its messages are in {}.", said(.line), log.display())]
    Failed {
        /// `initdb` or `PostgreSQL`.
        program: &'static str,
        /// How it ended.
        status: String,
        /// Its last message of weight.
        line: Option<String>,
        /// Where its messages are.
        log: PathBuf,
    },
    /// It runs, but does not accept connections in time.
    #[error(
        "PostgreSQL was not ready after {seconds} seconds{}; start again (a long recovery goes on where it \
         was), its messages are in {}.",
        said(.line), log.display()
    )]
    NotReady {
        /// How long was waited, in whole seconds.
        seconds: u64,
        /// Its last message.
        line: Option<String>,
        /// Where its messages are.
        log: PathBuf,
    },
    /// It was asked to stop and did not do it cleanly.
    #[error(
        "PostgreSQL did not stop cleanly ({status}){}; the next start recovers by itself, its messages are \
         in {}.",
        said(.line), log.display()
    )]
    UncleanStop {
        /// How it ended.
        status: String,
        /// Its last message of weight.
        line: Option<String>,
        /// Where its messages are.
        log: PathBuf,
    },
    /// A name that PostgreSQL cannot give to a database.
    #[error("`{name}` cannot be the name of a database: use 1 to 63 bytes without a zero byte.")]
    DatabaseName {
        /// The name asked for.
        name: String,
    },
    /// The server refused to create or look up a database.
    #[error("The database `{name}` could not be created in the private PostgreSQL: {reason}.")]
    Database {
        /// The database's name.
        name: String,
        /// The server's words.
        reason: String,
    },
    /// The operating system gave no thread to look after the server.
    #[error(
        "Sellion cannot start a thread to look after PostgreSQL: {reason}; the machine is out of memory or \
         threads."
    )]
    Thread {
        /// The system's reason.
        reason: String,
    },
}

impl ClusterError {
    /// Wraps an input or output error on `path`; a full disk gets its own sentence.
    pub(super) fn folder(doing: &'static str, path: &Path, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull {
                folder: path.parent().unwrap_or(path).to_owned(),
                free_bytes: super::logs::free_bytes(path),
                line: None,
            },
            _ => Self::Folder { doing, path: path.to_owned(), reason: plain(error) },
        }
    }
}

/// The system's words without the "(os error 13)" that helps nobody at a terminal.
pub(super) fn plain(error: &io::Error) -> String {
    let text = error.to_string();
    let words = text.split(" (os error").next().unwrap_or(&text);
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// Who holds a home, as far as its lock file tells.
fn holder(pid: &Option<u32>) -> String {
    pid.map_or_else(|| "another Sellion process".to_owned(), |pid| format!("process {pid}"))
}

/// The part of a sentence that quotes a server's last message, or nothing.
fn said(line: &Option<String>) -> String {
    line.as_ref().map_or_else(String::new, |line| format!(" (it said \"{line}\")"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_disk_is_told_apart_from_other_failures() {
        let full = ClusterError::folder("write", Path::new("/"), &io::ErrorKind::StorageFull.into());
        assert!(matches!(full, ClusterError::DiskFull { .. }), "{full}");
        let closed = ClusterError::folder("write", Path::new("/x"), &io::Error::from_raw_os_error(13));
        let sentence = closed.to_string();
        assert!(sentence.starts_with("Sellion cannot write /x: permission denied;"), "{sentence}");
        assert!(!sentence.contains("os error"), "{sentence}");
    }

    #[test]
    fn every_sentence_is_one_line_that_ends_with_a_full_stop() {
        let data = PathBuf::from("/d");
        let log = PathBuf::from("/l");
        let samples = [
            ClusterError::InUse { home: data.clone(), pid: Some(7) },
            ClusterError::InUse { home: data.clone(), pid: None },
            ClusterError::NoPrograms,
            ClusterError::ProgramsTooOld { found: "14".into() },
            ClusterError::VersionMismatch {
                data: data.clone(),
                made_by: "14".into(),
                installed: "15".into(),
            },
            ClusterError::OwnedByRoot { data: data.clone() },
            ClusterError::DiskFull { folder: data.clone(), free_bytes: 0, line: Some("no space".into()) },
            ClusterError::OtherServer { data: data.clone(), pid: 7 },
            ClusterError::NotReady { seconds: 3, line: None, log: log.clone() },
            ClusterError::UncleanStop { status: "exit status: 1".into(), line: None, log },
        ];
        for sample in samples {
            let sentence = sample.to_string();
            assert!(
                sentence.ends_with('.') && !sentence.contains('\n') && !sentence.contains("  "),
                "{sentence}"
            );
        }
    }
}
