//! Looking at processes by number: a number alone proves nothing, because the system gives it out again.

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
    thread,
    time::{Duration, Instant},
};

use rustix::process::{Pid, Signal, kill_process, test_kill_process};

const POLL: Duration = Duration::from_millis(20);

/// What a process number stands for at this moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// There is no such process.
    Gone,
    /// It is dead, and its parent has not yet taken notice. Signals to it still seem to succeed, which is
    /// why PostgreSQL takes its lock file for a living one's.
    Zombie,
    /// A PostgreSQL working in the folder asked about.
    Ours,
    /// Something else.
    Foreign,
}

/// What the process `pid` is to the database in `data`.
pub(super) fn look(pid: Pid, data: &Path) -> Standing {
    if Path::new("/proc/self/stat").exists() { look_in_proc(pid, data) } else { look_with_ps(pid, data) }
}

fn look_in_proc(pid: Pid, data: &Path) -> Standing {
    let folder = PathBuf::from(format!("/proc/{}", pid.as_raw_pid()));
    let Ok(stat) = fs::read_to_string(folder.join("stat")) else {
        return Standing::Gone;
    };
    // The command's name stands in brackets and may itself hold brackets: the state follows the last one.
    let state = stat.rsplit(')').next().and_then(|rest| rest.trim_start().chars().next());
    match state {
        Some('Z' | 'X') => Standing::Zombie,
        _ if works_in(&folder, data) => Standing::Ours,
        _ => Standing::Foreign,
    }
}

/// Whether the process behind a /proc folder is a PostgreSQL program working in `data`.
fn works_in(folder: &Path, data: &Path) -> bool {
    // The name of a program that was replaced on disk while it runs ends in " (deleted)".
    let is_postgres = fs::read_link(folder.join("exe"))
        .is_ok_and(|exe| exe.file_name().is_some_and(|name| name.to_string_lossy().starts_with("postgres")));
    is_postgres && fs::read_link(folder.join("cwd")).is_ok_and(|cwd| cwd == data)
}

/// For systems without /proc. The command line holds the data folder because this module put it there.
fn look_with_ps(pid: Pid, data: &Path) -> Standing {
    if test_kill_process(pid) == Err(rustix::io::Errno::SRCH) {
        return Standing::Gone;
    }
    let output =
        Command::new("ps").args(["-o", "stat=,command=", "-p", &pid.as_raw_pid().to_string()]).output();
    let text = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned()).unwrap_or_default();
    let Some((state, command)) = text.trim().split_once(char::is_whitespace) else {
        return Standing::Gone;
    };
    if state.starts_with('Z') {
        Standing::Zombie
    } else if command.contains("postgres") && command.contains(&*data.to_string_lossy()) {
        Standing::Ours
    } else {
        Standing::Foreign
    }
}

/// Every PostgreSQL process that works in `data`. Empty on systems without /proc, where PostgreSQL's own
/// check of its shared memory has to do.
pub(super) fn working_in(data: &Path) -> Vec<Pid> {
    let Ok(entries) = fs::read_dir("/proc") else {
        return Vec::new();
    };
    entries
        .flatten()
        .filter_map(|entry| {
            let number: i32 = entry.file_name().to_str()?.parse().ok()?;
            works_in(&entry.path(), data).then(|| Pid::from_raw(number))?
        })
        .collect()
}

/// Sends the signals one after the other, each with its time to take effect, until the process is no longer
/// ours. Says whether it ended.
pub(super) fn end(pid: Pid, data: &Path, steps: &[(Signal, Duration)]) -> bool {
    steps.iter().any(|&(signal, patience)| {
        // Looked at again right before each signal, so that a number given out anew is never hit.
        if look(pid, data) == Standing::Ours
            && let Err(error) = kill_process(pid, signal)
        {
            tracing::warn!(%error, pid = pid.as_raw_pid(), "a PostgreSQL process could not be signalled");
        }
        wait_until(patience, || look(pid, data) != Standing::Ours)
    })
}

/// Polls until `done` holds or the time is over; says whether it holds.
pub(super) fn wait_until(patience: Duration, mut done: impl FnMut() -> bool) -> bool {
    let deadline = Instant::now() + patience;
    while !done() {
        if Instant::now() >= deadline {
            return false;
        }
        thread::sleep(POLL);
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_process_is_foreign_and_a_dead_child_a_zombie_until_it_is_reaped() {
        let data = Path::new("/nowhere");
        for look in [look, look_with_ps] {
            assert_eq!(look(rustix::process::getpid(), data), Standing::Foreign);
            let mut child = Command::new("true").spawn().unwrap();
            let pid = Pid::from_child(&child);
            assert!(wait_until(Duration::from_secs(10), || look(pid, data) == Standing::Zombie));
            child.wait().unwrap();
            assert_eq!(look(pid, data), Standing::Gone);
        }
        assert_eq!(working_in(data), Vec::new());
    }
}
