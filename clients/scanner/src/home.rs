//! The folder of a gate: the pack it holds, what it remembers of its clock, and the scans that wait.

use std::fs::{self, DirBuilder, File};
use std::io::{self, Write as _};
use std::os::unix::fs::DirBuilderExt as _;
use std::path::{Path, PathBuf};

use anyhow::Context as _;
use serde::{Serialize, de::DeserializeOwned};

/// The folder. Everything in it is for its owner alone.
#[derive(Debug, Clone)]
pub struct Home {
    folder: PathBuf,
}

impl Home {
    /// Opens a folder, made when it is not there.
    ///
    /// # Errors
    /// It cannot be made.
    pub fn open(folder: &Path) -> anyhow::Result<Self> {
        let made = DirBuilder::new().recursive(true).mode(0o700).create(folder);
        made.with_context(|| {
            format!("cannot make the folder {}: choose another with --home", folder.display())
        })?;
        Ok(Self { folder: folder.to_owned() })
    }

    /// Where a file of the gate lies.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// The text of a file; none when it is not there.
    ///
    /// # Errors
    /// It is there and cannot be read.
    pub fn read(&self, name: &str) -> anyhow::Result<Option<String>> {
        match fs::read_to_string(self.path(name)) {
            Ok(text) => Ok(Some(text)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) if error.kind() == io::ErrorKind::InvalidData => Ok(Some(String::new())),
            Err(error) => Err(error).with_context(|| format!("cannot read {}", self.path(name).display())),
        }
    }

    /// Puts a file in the place of an older one: whoever reads meanwhile, or after the power failed, finds the old one
    /// or the new one whole.
    ///
    /// # Errors
    /// It cannot be written: the disk is full, or the folder belongs to somebody else.
    pub fn replace(&self, name: &str, text: &str) -> anyhow::Result<()> {
        let write = || -> io::Result<()> {
            let mut file = tempfile::NamedTempFile::new_in(&self.folder)?;
            file.write_all(text.as_bytes())?;
            file.as_file().sync_all()?;
            file.persist(self.path(name)).map_err(|error| error.error)?;
            File::open(&self.folder)?.sync_all()
        };
        write().with_context(|| format!("cannot write {}", self.path(name).display()))
    }

    /// A small file of JSON; none when it is not there or no such JSON any more.
    pub fn remembered<T: DeserializeOwned>(&self, name: &str) -> Option<T> {
        serde_json::from_str(&self.read(name).ok()??).ok()
    }

    /// Remembers something that may be lost when the power fails, without waiting for the disk.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn remember<T: Serialize>(&self, name: &str, value: &T) -> anyhow::Result<()> {
        let write = || -> io::Result<()> {
            let mut file = tempfile::NamedTempFile::new_in(&self.folder)?;
            serde_json::to_writer(&mut file, value)?;
            file.persist(self.path(name)).map_err(|error| error.error)?;
            Ok(())
        };
        write().with_context(|| format!("cannot write {}", self.path(name).display()))
    }

    /// Waits for a turn at something that two programs at one gate must not do at once; held until dropped.
    ///
    /// # Errors
    /// The file that stands for it cannot be locked.
    pub fn turn(&self, name: &str) -> io::Result<File> {
        let file = self.lock_file(name)?;
        file.lock()?;
        Ok(file)
    }

    /// As [`Home::turn`], but none when another program has it.
    ///
    /// # Errors
    /// The file that stands for it cannot be locked.
    pub fn turn_if_free(&self, name: &str) -> io::Result<Option<File>> {
        let file = self.lock_file(name)?;
        match file.try_lock() {
            Ok(()) => Ok(Some(file)),
            Err(fs::TryLockError::WouldBlock) => Ok(None),
            Err(fs::TryLockError::Error(error)) => Err(error),
        }
    }

    fn lock_file(&self, name: &str) -> io::Result<File> {
        File::options().create(true).truncate(false).write(true).open(self.path(name))
    }
}
