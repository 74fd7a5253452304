//! Which user the database runs as: PostgreSQL refuses root, so root hands it to another user.

use std::{
    fs, io,
    os::unix::fs::{MetadataExt, chown},
    path::{Path, PathBuf},
};

use nix::unistd::{Uid, User};

use super::error::ClusterError;

const ROOT: u32 = 0;

/// The user of the database processes.
#[derive(Debug, Clone)]
pub(super) struct Owner {
    pub(super) uid: u32,
    pub(super) gid: u32,
    pub(super) name: String,
    /// Whether the database's processes must change to this user, because this process is root.
    pub(super) switch: bool,
}

impl Owner {
    /// Decides for a home: who owns the stored database runs it; a new one belongs to this process's user
    /// or, if that is root, to `postgres` or else `nobody`.
    pub(super) fn choose(data: &Path, stored: bool) -> Result<Self, ClusterError> {
        let me = Uid::effective().as_raw();
        if stored { Self::of_stored(data, me) } else { Self::for_new(me) }
    }

    fn of_stored(data: &Path, me: u32) -> Result<Self, ClusterError> {
        let meta = fs::metadata(data).map_err(|error| ClusterError::folder("read", data, &error))?;
        let (uid, gid) = (meta.uid(), meta.gid());
        if uid == ROOT {
            return Err(ClusterError::OwnedByRoot { data: data.to_owned() });
        }
        if me != ROOT && me != uid {
            return Err(ClusterError::ForeignOwner {
                data: data.to_owned(),
                owner: name_of(uid),
                me: name_of(me),
            });
        }
        Ok(Self { uid, gid, name: name_of(uid), switch: me == ROOT })
    }

    fn for_new(me: u32) -> Result<Self, ClusterError> {
        let known = if me == ROOT {
            let user = lookup("postgres").or_else(|| lookup("nobody"));
            user.filter(|user| user.uid.as_raw() != ROOT).ok_or(ClusterError::NoOtherUser)?
        } else {
            let user = User::from_uid(Uid::from_raw(me)).ok().flatten();
            user.ok_or(ClusterError::NamelessUser { uid: me })?
        };
        Ok(Self { uid: known.uid.as_raw(), gid: known.gid.as_raw(), name: known.name, switch: me == ROOT })
    }

    /// Gives a folder that this process has just made to the database's user.
    pub(super) fn give(&self, path: &Path) -> Result<(), ClusterError> {
        if !self.switch {
            return Ok(());
        }
        chown(path, Some(self.uid), Some(self.gid))
            .map_err(|error| ClusterError::folder("hand over", path, &error))
    }

    /// The first folder on the way to `path`, itself included, that this user may not enter, by its mode
    /// bits.
    pub(super) fn blocked_at(&self, path: &Path) -> Option<PathBuf> {
        let mut way: Vec<&Path> = path.ancestors().collect();
        way.reverse();
        way.into_iter()
            .find(|folder| fs::metadata(folder).is_ok_and(|meta| meta.is_dir() && !self.may_enter(&meta)))
            .map(Path::to_owned)
    }

    fn may_enter(&self, meta: &fs::Metadata) -> bool {
        let shift = if meta.uid() == self.uid {
            6
        } else if meta.gid() == self.gid {
            3
        } else {
            0
        };
        meta.mode() >> shift & 1 == 1
    }

    /// Turns a failed start of a program into the folder that is closed to this user, if one is.
    pub(super) fn explain(&self, error: &io::Error, paths: [&Path; 2]) -> Option<ClusterError> {
        if error.kind() != io::ErrorKind::PermissionDenied {
            return None;
        }
        let folder = paths.into_iter().find_map(|path| self.blocked_at(path))?;
        Some(ClusterError::Blocked { folder, user: self.name.clone() })
    }
}

fn lookup(name: &str) -> Option<User> {
    User::from_name(name).ok().flatten()
}

/// The user's name, or the bare number where it has none.
fn name_of(uid: u32) -> String {
    let user = User::from_uid(Uid::from_raw(uid)).ok().flatten();
    user.map_or_else(|| uid.to_string(), |user| user.name)
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::PermissionsExt;

    use super::*;

    #[test]
    fn the_closed_folder_on_the_way_is_found() {
        let top = tempfile::tempdir().unwrap();
        let closed = top.path().join("closed");
        let inner = closed.join("inner");
        fs::create_dir_all(&inner).unwrap();
        fs::set_permissions(top.path(), fs::Permissions::from_mode(0o711)).unwrap();
        fs::set_permissions(&closed, fs::Permissions::from_mode(0o700)).unwrap();
        let stranger = Owner { uid: 64_999, gid: 64_999, name: "stranger".into(), switch: true };
        assert_eq!(stranger.blocked_at(&inner), Some(closed.clone()));
        let denied = io::Error::from(io::ErrorKind::PermissionDenied);
        let sentence = stranger.explain(&denied, [Path::new("/"), &inner]).unwrap().to_string();
        assert!(
            sentence.contains("stranger") && sentence.contains(&closed.display().to_string()),
            "{sentence}"
        );
        fs::set_permissions(&closed, fs::Permissions::from_mode(0o701)).unwrap();
        assert_ne!(stranger.blocked_at(&inner), Some(closed));
    }

    #[test]
    fn a_database_of_root_is_refused_by_name() {
        let refused = Owner::of_stored(Path::new("/"), ROOT).unwrap_err();
        assert!(matches!(refused, ClusterError::OwnedByRoot { .. }), "{refused}");
    }

    #[test]
    fn an_unknown_user_id_is_refused_before_initdb_fails_on_it() {
        let refused = Owner::for_new(3_999_999_999).unwrap_err();
        assert!(refused.to_string().contains("3999999999"), "{refused}");
    }
}
