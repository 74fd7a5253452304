//! Another process that keeps a cluster, to be killed or to be in the way: this very test program, started
//! again.

use std::{
    fs,
    io::{BufRead, BufReader, ErrorKind, Read, Write},
    os::unix::process::CommandExt,
    path::Path,
    process::{Child, ChildStdin, Command, Stdio},
};

use sellion_store::cluster::{Cluster, Durability, Options};

use crate::support::{TestHome, eventually};

const HOME: &str = "CLUSTER_TEST_HOME";
const THIS_TEST: &str = "other_process::it_keeps_a_cluster_until_its_input_ends";

/// The other process. Its input ends with this value, or with this whole program, and then it stops by
/// itself.
pub(crate) struct OtherProcess {
    child: Child,
    _input: ChildStdin,
    lines: Box<dyn Iterator<Item = String> + Send>,
}

/// A copied program cannot run while somebody holds it open for writing, and what another test is just starting may
/// hold a copy of that open file for a moment.
fn spawned(command: &mut Command) -> Child {
    let mut child = command.spawn();
    eventually("the program is nobody's open file", || {
        if child.as_ref().is_err_and(|error| error.kind() == ErrorKind::ExecutableFileBusy) {
            child = command.spawn();
        }
        !child.as_ref().is_err_and(|error| error.kind() == ErrorKind::ExecutableFileBusy)
    });
    child.unwrap()
}

impl OtherProcess {
    pub(crate) fn start(home: &Path) -> Self {
        Self::from_command(&mut Command::new(std::env::current_exe().unwrap()), home)
    }

    /// As another user, who need not be able to reach this program where it lies.
    pub(crate) fn start_as(uid: u32, gid: u32, home: &TestHome) -> Self {
        let copy = home.top().join("program");
        fs::copy(std::env::current_exe().unwrap(), &copy).unwrap();
        Self::from_command(Command::new(copy).uid(uid).gid(gid).current_dir("/"), home.path())
    }

    pub(crate) fn from_command(command: &mut Command, home: &Path) -> Self {
        command
            .args(["--exact", THIS_TEST, "--nocapture"])
            .env(HOME, home)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let mut child = spawned(command);
        let input = child.stdin.take().unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        Self { child, _input: input, lines: Box::new(lines) }
    }

    pub(crate) fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Waits for the outcome of its start: the server's number and address, or the sentence.
    pub(crate) fn outcome(&mut self) -> Result<(u32, String), String> {
        for line in &mut self.lines {
            if let Some((_, sentence)) = line.split_once("REFUSED ") {
                return Err(sentence.to_owned());
            }
            if let Some((_, rest)) = line.split_once("RUNS ") {
                let (pid, url) = rest.split_once(' ').unwrap();
                return Ok((pid.parse().unwrap(), url.to_owned()));
            }
        }
        panic!("the other process ended without a word");
    }

    /// Ends it without giving it a chance to do anything about it.
    pub(crate) fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for OtherProcess {
    fn drop(&mut self) {
        // Both fail only if it has ended already.
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// In the other process, keeps the cluster. In this one, shows that it does and that the end of its input
/// ends both.
#[test]
fn it_keeps_a_cluster_until_its_input_ends() {
    match std::env::var_os(HOME) {
        Some(home) => keep(home.as_ref()),
        None => {
            let home = TestHome::new();
            let mut other = OtherProcess::start(home.path());
            other.outcome().unwrap();
            assert_eq!(home.refusal().matches(&format!("process {}", other.pid())).count(), 1);
            let OtherProcess { child, _input: input, .. } = &mut other;
            drop(std::mem::replace(input, no_input()));
            assert!(child.wait().unwrap().success());
            assert_eq!(home.servers(), []);
        }
    }
}

/// Some other open input, to put in the place of the one that is closed.
fn no_input() -> ChildStdin {
    let mut child = Command::new("true").stdin(Stdio::piped()).spawn().unwrap();
    let input = child.stdin.take().unwrap();
    child.wait().unwrap();
    input
}

fn keep(home: &Path) {
    let options = Options {
        home: home.to_owned(),
        programs: None,
        durability: Durability::Throwaway,
        max_connections: 20,
        start_timeout: std::time::Duration::from_secs(120),
    };
    let say = |line: String| {
        let mut output = std::io::stdout();
        writeln!(output, "\n{line}").and_then(|()| output.flush()).unwrap();
    };
    match Cluster::start(&options) {
        Ok(cluster) => {
            say(format!("RUNS {} {}", cluster.server_pid().unwrap(), cluster.database_url("day")));
            std::io::stdin().read_to_end(&mut Vec::new()).unwrap();
            cluster.stop().unwrap();
        }
        Err(error) => say(format!("REFUSED {error}")),
    }
}
