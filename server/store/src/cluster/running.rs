//! A server that another process keeps running on a home: found, not owned.

use std::{fs, path::Path};

use super::{
    leftovers,
    processes::{self, Standing},
    socket,
};

/// The address of a database in the server that some other process runs on this home, if one does.
///
/// Lets a command look at the data while `serve` is running. The server stays that other process's.
#[must_use]
pub fn address_of_running(home: &Path, database: &str) -> Option<String> {
    let data = fs::canonicalize(home).ok()?.join("data");
    let (pid, sockets) = leftovers::named_in_lock_file(&data)?;
    let serves = processes::look(pid, &data) == Standing::Ours && leftovers::says_ready(&data, pid);
    serves.then(|| socket::database_url(Path::new(&sockets), database))
}
