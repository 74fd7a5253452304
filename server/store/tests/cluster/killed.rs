//! Killed processes and what they leave behind: the next start works and finds all that was committed.

use std::{
    ffi::OsStr,
    fs,
    os::unix::{fs::chown, process::CommandExt},
    path::Path,
    process::{Child, Command, Stdio},
};

use rustix::process::Signal;

use crate::{
    other_process::OtherProcess,
    support::{TestHome, connect, count_facts, day, eventually, kill, run},
};

/// Ends with the test, whether it passes or not.
struct Ending(Child);

impl Drop for Ending {
    fn drop(&mut self) {
        // Both fail only if it has ended already.
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// Runs a program as the user of the home's database.
fn as_owner(home: &TestHome, program: impl AsRef<OsStr>, arguments: &[&OsStr]) -> Ending {
    let mut command = Command::new(program);
    command.args(arguments).current_dir("/").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    if crate::support::is_root() {
        let (uid, gid) = home.owner();
        command.uid(uid).gid(gid);
    }
    Ending(command.spawn().unwrap())
}

/// A home with a database and one committed fact in it, at rest.
fn home_with_a_fact() -> TestHome {
    let home = TestHome::new();
    let cluster = home.start();
    run(&mut day(&cluster), "INSERT INTO fact VALUES ('committed')");
    cluster.stop().unwrap();
    home
}

#[test]
fn a_killed_parent_takes_the_server_along_and_loses_only_what_was_not_committed() {
    let home = home_with_a_fact();
    let mut other = OtherProcess::start(home.path());
    let (_, url) = other.outcome().unwrap();
    let mut connection = connect(&url);
    run(&mut connection, "INSERT INTO fact VALUES ('committed too')");
    run(&mut connection, "BEGIN; INSERT INTO fact VALUES ('open')");
    other.kill();
    eventually("the server is gone", || home.servers().is_empty());
    assert!(!home.data().join("postmaster.pid").exists(), "the shutdown was not clean");
    assert_eq!(count_facts(&mut day(&home.start())), 2);
}

#[test]
fn a_parent_and_a_server_killed_in_the_middle_of_work_are_recovered_from() {
    let home = home_with_a_fact();
    let mut other = OtherProcess::start(home.path());
    let (server, url) = other.outcome().unwrap();
    let mut connection = connect(&url);
    run(&mut connection, "INSERT INTO fact VALUES ('committed too')");
    run(&mut connection, "BEGIN; INSERT INTO fact SELECT 'open' FROM generate_series(1, 10000)");
    // The server first: its parent must not have the time to restart it or the kernel to stop it gently.
    kill(server, Signal::KILL);
    other.kill();
    assert!(home.data().join("postmaster.pid").exists(), "nothing was left to recover from");
    assert_eq!(count_facts(&mut day(&home.start())), 2);
}

#[test]
fn a_start_killed_while_it_makes_the_database_does_not_stand_in_the_way() {
    let home = TestHome::new();
    let other = OtherProcess::start(home.path());
    let unfinished = || {
        let entries = fs::read_dir(home.path()).into_iter().flatten().flatten();
        entries.filter(|entry| entry.file_name().to_string_lossy().starts_with("data.new")).count()
    };
    eventually("it is being made", || unfinished() == 1);
    other.kill();
    assert!(!home.data().exists(), "it was made already: nothing shown");
    assert_eq!(count_facts(&mut day(&home.start())), 0);
    assert_eq!(unfinished(), 0);
}

/// Leaves the lock files of a killed server whose number is `pid`.
fn leave_lock_files_of(home: &TestHome, pid: u32) {
    let (uid, gid) = home.owner();
    let (data, run) = (home.data(), home.path().join("run"));
    let places = format!("{}\n1767596400\n5432\n{}", data.display(), run.display());
    for path in [data.join("postmaster.pid"), run.join(".s.PGSQL.5432.lock")] {
        fs::write(&path, format!("{pid}\n{places}\n\n  5432001         1\nready   \n")).unwrap();
        chown(&path, Some(uid), Some(gid)).unwrap();
    }
}

#[test]
fn lock_files_that_name_a_living_stranger_do_not_stand_in_the_way() {
    let home = home_with_a_fact();
    let mut stranger = as_owner(&home, "sleep", &["600".as_ref()]);
    leave_lock_files_of(&home, stranger.0.id());
    assert_eq!(count_facts(&mut day(&home.start())), 1);
    assert!(stranger.0.try_wait().unwrap().is_none(), "the stranger was ended");
}

/// As after a kill under a process number 1 that never takes notice of its dead.
#[test]
fn lock_files_that_name_a_zombie_do_not_stand_in_the_way() {
    let home = home_with_a_fact();
    let zombie = as_owner(&home, "true", &[]);
    let stat = format!("/proc/{}/stat", zombie.0.id());
    eventually("it is a zombie", || fs::read_to_string(&stat).unwrap().contains(") Z "));
    leave_lock_files_of(&home, zombie.0.id());
    assert_eq!(count_facts(&mut day(&home.start())), 1);
}

#[test]
fn an_empty_lock_file_does_not_stand_in_the_way() {
    let home = home_with_a_fact();
    fs::write(home.data().join("postmaster.pid"), "").unwrap();
    assert_eq!(count_facts(&mut day(&home.start())), 1);
}

/// The arguments of a server as an earlier run without a death signal would have left it, or as started by
/// hand.
fn by_hand(home: &TestHome, sockets: &Path) -> Ending {
    let programs = home.start().programs().folder().to_owned();
    let data = home.data();
    let settings = ["-c".as_ref(), "listen_addresses=".as_ref(), "-k".as_ref(), sockets.as_os_str()];
    let arguments = [&["-D".as_ref(), data.as_os_str()][..], &settings].concat();
    let server = as_owner(home, programs.join("postgres"), &arguments);
    let ready = || fs::read_to_string(data.join("postmaster.pid")).is_ok_and(|text| text.contains("ready"));
    eventually("the server by hand is ready", ready);
    server
}

#[test]
fn a_server_that_outlived_its_parent_is_stopped_and_replaced() {
    let home = home_with_a_fact();
    let sockets = fs::canonicalize(home.path()).unwrap().join("run");
    let server = by_hand(&home, &sockets);
    // Its parent, this test, does not take notice of its death: to the start it stays a zombie.
    let cluster = home.start();
    assert_ne!(cluster.server_pid(), Some(server.0.id()));
    assert_eq!(count_facts(&mut day(&cluster)), 1);
}

#[test]
fn a_server_started_by_hand_is_named_and_left_alone() {
    let home = home_with_a_fact();
    let sockets = home.top().join("hand");
    fs::create_dir(&sockets).unwrap();
    let (uid, gid) = home.owner();
    chown(&sockets, Some(uid), Some(gid)).unwrap();
    let mut server = by_hand(&home, &sockets);
    let sentence = home.refusal();
    assert!(sentence.contains(&format!("kill -INT {}", server.0.id())), "{sentence}");
    assert!(server.0.try_wait().unwrap().is_none(), "it was stopped");
}
