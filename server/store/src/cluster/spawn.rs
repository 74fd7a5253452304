//! Starting one of PostgreSQL's programs as the database's user, tied to the life of the thread that starts
//! it.

use std::{
    ffi::OsStr,
    fs::File,
    io,
    os::unix::process::CommandExt,
    path::Path,
    process::{Child, Command, Stdio},
};

use rustix::process::Signal;

use super::{error::ClusterError, error::plain, owner::Owner, programs::Programs};

/// Builds the command; nothing of this process's environment reaches it.
pub(super) struct Spawn<'a> {
    pub(super) programs: &'a Programs,
    pub(super) owner: &'a Owner,
    /// The working folder, which the database's user must be able to enter.
    pub(super) folder: &'a Path,
    /// Takes all output. A file, because a pipe inherited by the server would keep its reader waiting for
    /// ever.
    pub(super) log: File,
}

impl Spawn<'_> {
    /// Starts the program `name`; it gets `orphaned` when the calling thread ends before it does (Linux
    /// only).
    pub(super) fn start<A: AsRef<OsStr>>(
        self,
        name: &str,
        arguments: impl IntoIterator<Item = A>,
        orphaned: Signal,
    ) -> Result<Child, ClusterError> {
        let program = self.programs.program(name);
        let second =
            self.log.try_clone().map_err(|error| ClusterError::folder("write", self.folder, &error))?;
        let mut command = Command::new(&program);
        command
            .args(arguments)
            .env_clear()
            .env("LC_ALL", LOCALE)
            .env("TZ", "UTC")
            .current_dir(self.folder)
            .stdin(Stdio::null())
            .stdout(self.log)
            .stderr(second)
            // A Ctrl-C at the terminal goes to the whole group: the database must not stop before its
            // clients.
            .process_group(0);
        if self.owner.switch {
            // This also empties the supplementary groups.
            command.uid(self.owner.uid).gid(self.owner.gid);
        }
        end_with_parent(&mut command, orphaned);
        command.spawn().map_err(|error| {
            self.owner.explain(&error, [self.folder, self.programs.folder()]).unwrap_or_else(|| {
                ClusterError::BadPrograms {
                    folder: self.programs.folder().to_owned(),
                    reason: format!("{name}: {}", plain(&error)),
                }
            })
        })
    }
}

/// Compares text by code point and knows the letters of all scripts; the same on every Linux.
#[cfg(target_os = "linux")]
pub(super) const LOCALE: &str = "C.UTF-8";

/// Systems without a `C.UTF-8` have this one.
#[cfg(not(target_os = "linux"))]
pub(super) const LOCALE: &str = "en_US.UTF-8";

/// Has the kernel send `signal` to the program when the thread that starts it ends, in whatever way.
#[cfg(target_os = "linux")]
#[expect(unsafe_code, reason = "only between fork and exec can a child ask for its parent's death signal")]
fn end_with_parent(command: &mut Command, signal: Signal) {
    let parent = rustix::process::getpid();
    let ask = move || {
        rustix::process::set_parent_process_death_signal(Some(signal))?;
        // The parent may have died before the request: then nobody will ever send the signal.
        if rustix::process::getppid() != Some(parent) {
            return Err(io::Error::from_raw_os_error(rustix::io::Errno::SRCH.raw_os_error()));
        }
        Ok(())
    };
    // SAFETY: the closure runs in the forked child, where only async-signal-safe work is allowed. It makes
    // two bare system calls on copied integers; it takes no lock, allocates nothing (an `io::Error` from a
    // number is plain data) and touches no memory shared with other threads.
    unsafe { command.pre_exec(ask) };
}

/// Other systems have no such signal: there the next start stops the server that outlived its parent.
#[cfg(not(target_os = "linux"))]
fn end_with_parent(_command: &mut Command, _signal: Signal) {}
