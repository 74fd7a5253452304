//! The folder of the socket, and the address that leads a client to it.

use std::{
    env, fs,
    os::unix::ffi::OsStrExt,
    path::{Path, PathBuf},
};

use sha2::{Digest, Sha256};

use super::{
    error::ClusterError,
    home::{self, Home},
    owner::Owner,
};

/// The number in the socket's file name. Nothing listens on a port of that number.
pub(super) const PORT: u16 = 5432;

/// The name of the database's first and only role.
pub(super) const ROLE: &str = "sellion";

/// The longest path of a socket: `sun_path` holds 104 bytes on macOS and 108 on Linux, one of them the
/// zero.
const LONGEST_PATH: usize = 103;

/// Chooses and makes the folder for the socket: `run` in the home, or where that cannot carry a socket a
/// folder with a short path whose name follows from the home's path.
pub(super) fn make_folder(home: &Home, owner: &Owner) -> Result<PathBuf, ClusterError> {
    let run = home.run();
    if fits(&run) {
        home::make_private(&run)?;
        owner.give(&run)?;
        return Ok(run);
    }
    let digest = Sha256::digest(home.root().as_os_str().as_bytes());
    let name: String = digest.iter().take(6).map(|byte| format!("{byte:02x}")).collect();
    let bases = short_bases(owner);
    bases.iter().find_map(|base| make_short(&base.join(format!("sellion-{name}")), owner)).ok_or_else(|| {
        let tried = bases.iter().map(|base| base.display().to_string()).collect::<Vec<_>>().join(" or ");
        ClusterError::NoSocketFolder { home: home.root().to_owned(), tried }
    })
}

/// Whether a socket in this folder can be bound and then named in a connection address. libpq splits hosts
/// at commas and offers no way to write one.
fn fits(folder: &Path) -> bool {
    let longest_name = format!("/.s.PGSQL.{PORT}").len();
    let bytes = folder.as_os_str().as_bytes();
    bytes.len() + longest_name <= LONGEST_PATH && !bytes.contains(&b',') && !bytes.contains(&b'\n')
}

fn short_bases(owner: &Owner) -> Vec<PathBuf> {
    // A runtime folder of root's session is closed to the user the database runs as.
    let own = if owner.switch {
        Some(PathBuf::from("/run"))
    } else {
        env::var_os("XDG_RUNTIME_DIR").map(Into::into)
    };
    own.into_iter().filter(|base| base.is_absolute()).chain([PathBuf::from("/tmp")]).collect()
}

/// Anybody may make folders in /tmp: one that is already there counts only if it is the database user's
/// alone.
fn make_short(folder: &Path, owner: &Owner) -> Option<PathBuf> {
    if !fits(folder) {
        return None;
    }
    if fs::symlink_metadata(folder).is_err() {
        home::make_private(folder).and_then(|()| owner.give(folder)).ok()?;
    }
    home::is_private_to(folder, owner.uid).then(|| folder.to_owned())
}

/// The socket itself.
pub(super) fn file(folder: &Path) -> PathBuf {
    folder.join(format!(".s.PGSQL.{PORT}"))
}

/// Removes a socket and its lock that a killed server left. Only while no server uses the folder:
/// PostgreSQL itself would refuse to start if the number in that lock now belongs to another process.
pub(super) fn clear(folder: &Path) {
    for path in [file(folder), folder.join(format!(".s.PGSQL.{PORT}.lock"))] {
        if fs::remove_file(&path).is_ok() {
            tracing::debug!(path = %path.display(), "removed a socket left over from an earlier run");
        }
    }
}

/// Removes the folder again if it is not part of the home.
pub(super) fn remove_folder(folder: &Path, home: &Path) {
    if !folder.starts_with(home) {
        clear(folder);
        if let Err(error) = fs::remove_dir(folder) {
            tracing::debug!(%error, folder = %folder.display(), "the socket's folder stays behind");
        }
    }
}

/// The value of `unix_socket_directories`, which is a list: quoted, so that spaces stay part of the name.
pub(super) fn setting(folder: &Path) -> std::ffi::OsString {
    let mut value = b"unix_socket_directories=\"".to_vec();
    for &byte in folder.as_os_str().as_bytes() {
        value.extend(if byte == b'"' { &b"\"\""[..] } else { std::slice::from_ref(&byte) });
    }
    value.push(b'"');
    std::os::unix::ffi::OsStringExt::from_vec(value)
}

/// The libpq address of a database behind the socket in `folder`.
pub(super) fn database_url(folder: &Path, database: &str) -> String {
    let host = percent(folder.as_os_str().as_bytes());
    format!("postgresql://{ROLE}@/{}?host={host}&port={PORT}", percent(database.as_bytes()))
}

/// Percent-encodes all but the letters that RFC 3986 section 2.3 calls unreserved.
fn percent(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len()), |mut text, &byte| {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            text.push(char::from(byte));
        } else {
            text.push_str(&format!("%{byte:02X}"));
        }
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_escape_everything_that_means_something_to_libpq() {
        assert_eq!(
            database_url(Path::new("/home/a b/run"), "day?&%/é"),
            "postgresql://sellion@/day%3F%26%25%2F%C3%A9?host=%2Fhome%2Fa%20b%2Frun&port=5432"
        );
    }

    #[test]
    fn the_socket_setting_keeps_spaces_and_quotes() {
        assert_eq!(setting(Path::new("/a \"b\"/c")), "unix_socket_directories=\"/a \"\"b\"\"/c\"");
    }

    #[test]
    fn long_paths_and_commas_cannot_carry_a_socket() {
        assert!(fits(Path::new("/var/lib/sellion/run")));
        assert!(!fits(Path::new("/srv/fit,test/run")));
        let name_bytes = "/.s.PGSQL.5432".len();
        let longest = format!("/{}", "x".repeat(LONGEST_PATH - name_bytes - 1));
        assert!(fits(Path::new(&longest)));
        assert!(!fits(Path::new(&format!("{longest}x"))));
    }
}
