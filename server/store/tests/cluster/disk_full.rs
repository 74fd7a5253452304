//! A full disk: a clear sentence, nothing committed lost, and work again when there is room.

use std::{
    fs::{self, File},
    io::Write,
    os::unix::process::CommandExt,
    path::{Path, PathBuf},
    process::Command,
    thread,
};

use diesel::connection::SimpleConnection;
use sellion_store::cluster::{Cluster, ClusterError, Durability, Options};

use crate::support::{TestHome, count_facts, day, eventually, left_out, run};

/// A disk of a few megabytes, gone with the value. The home below keeps the mount point's cleaning for its
/// own end.
struct SmallDisk {
    point: PathBuf,
    home: TestHome,
}

impl SmallDisk {
    fn mount(size: &str) -> Option<Self> {
        let home = TestHome::named("disk/home");
        let point = home.top().join("disk");
        fs::create_dir(&point).unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size},mode=755"), "none"])
            .arg(&point)
            .output();
        if mount.is_ok_and(|output| output.status.success()) {
            return Some(Self { point, home });
        }
        left_out("a full disk", "it takes root and the right to mount a small one");
        None
    }

    fn ballast(&self) -> PathBuf {
        self.point.join("ballast")
    }

    /// Fills the disk to the last byte.
    fn fill(&self) {
        let mut file = File::create(self.ballast()).unwrap();
        for chunk in [1 << 20, 1 << 12, 1] {
            while file.write_all(&vec![7; chunk]).is_ok() {}
        }
    }

    /// Whether something in the home has a name that begins like this.
    fn holds(&self, beginning: &str) -> bool {
        let mut entries = fs::read_dir(self.home.path()).into_iter().flatten().flatten();
        entries.any(|entry| entry.file_name().to_string_lossy().starts_with(beginning))
    }

    fn make_room(&self) {
        fs::remove_file(self.ballast()).unwrap();
    }

    fn start(&self) -> Result<Cluster, ClusterError> {
        let options: Options = self.home.options(Durability::Durable);
        Cluster::start(&options)
    }

    /// Reads every page of the database at rest and compares its checksum.
    fn verify(&self, programs: &Path) {
        let (uid, gid) = self.home.owner();
        let output = Command::new(programs.join("pg_checksums"))
            .args(["--check", "-D"])
            .arg(self.home.data())
            .uid(uid)
            .gid(gid)
            .current_dir("/")
            .output()
            .unwrap();
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.success() && text.contains("Bad checksums:  0"), "{text}");
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        for pid in self.home.servers() {
            // It may have ended by itself since it was listed.
            rustix::process::kill_process(pid, rustix::process::Signal::KILL).ok();
        }
        let unmounted = Command::new("umount").arg("--lazy").arg(&self.point).status();
        if !unmounted.is_ok_and(|status| status.success()) {
            left_out("cleaning up", "the small disk could not be unmounted");
        }
    }
}

fn assert_full(error: &ClusterError, disk: &SmallDisk) {
    let sentence = error.to_string();
    assert!(matches!(error, ClusterError::DiskFull { .. }), "{sentence}");
    assert!(sentence.contains(&disk.point.display().to_string()), "{sentence}");
    assert!(sentence.contains("bytes are free") && sentence.contains("make room"), "{sentence}");
}

#[test]
fn a_new_database_on_a_full_disk_is_refused_and_leaves_nothing() {
    let Some(disk) = SmallDisk::mount("160m") else { return };
    disk.fill();
    assert_full(&disk.start().unwrap_err(), &disk);
    disk.make_room();
    // The second time there is room at first, and none any more once the making has begun.
    let outcome = thread::scope(|scope| {
        let start = scope.spawn(|| disk.start());
        eventually("it is being made", || disk.holds("data.new"));
        disk.fill();
        start.join().unwrap()
    });
    assert_full(&outcome.unwrap_err(), &disk);
    assert!(!disk.holds("data"), "something was left behind");
    disk.make_room();
    assert_eq!(count_facts(&mut day(&disk.start().unwrap())), 0);
}

#[test]
fn a_disk_that_fills_up_during_work_loses_nothing_that_was_committed() {
    let Some(disk) = SmallDisk::mount("160m") else { return };
    let cluster = disk.start().unwrap();
    let programs = cluster.programs().folder().to_owned();
    let mut connection = day(&cluster);
    disk.fill();
    let mut committed = 0;
    let refusal = loop {
        match connection
            .batch_execute("INSERT INTO fact SELECT repeat('x', 1000) FROM generate_series(1, 100)")
        {
            Ok(()) => committed += 100,
            Err(error) => break error.to_string(),
        }
        assert!(committed < 1_000_000, "the disk does not fill up");
    };
    // Either the statement was refused in words, or the server could not go on and says so itself.
    if !refusal.contains("No space left on device") {
        eventually("the trouble is told", || cluster.trouble().is_some());
        assert_full(&cluster.trouble().unwrap(), &disk);
        assert_full(&cluster.ensure_database("other").unwrap_err(), &disk);
    }
    drop(connection);
    disk.make_room();
    eventually("it works again by itself", || {
        cluster.trouble().is_none() && cluster.ensure_database("day").is_ok()
    });
    assert_eq!(count_facts(&mut day(&cluster)), committed);
    cluster.stop().unwrap();
    disk.verify(&programs);
}

/// Without room for its log PostgreSQL cannot even refuse one statement: the whole server ends.
#[test]
fn a_server_that_ends_on_a_full_disk_tells_why_and_comes_back_with_the_room() {
    let Some(disk) = SmallDisk::mount("160m") else { return };
    let cluster = disk.start().unwrap();
    let programs = cluster.programs().folder().to_owned();
    let mut connection = day(&cluster);
    run(&mut connection, "INSERT INTO fact VALUES ('kept')");
    disk.fill();
    // Such messages go to the log only: no table asks for room first.
    let flood = "SELECT pg_logical_emit_message(false, 'flood', repeat('x', 1000000))";
    while connection.batch_execute(flood).is_ok() {}
    eventually("the trouble is told", || cluster.trouble().is_some());
    assert_full(&cluster.trouble().unwrap(), &disk);
    assert_full(&cluster.ensure_database("other").unwrap_err(), &disk);
    disk.make_room();
    eventually("it works again by itself", || {
        cluster.trouble().is_none() && cluster.ensure_database("day").is_ok()
    });
    assert_eq!(count_facts(&mut day(&cluster)), 1);
    cluster.stop().unwrap();
    disk.verify(&programs);
}

#[test]
fn a_start_on_a_disk_that_is_full_already_says_so_and_works_when_there_is_room() {
    let Some(disk) = SmallDisk::mount("160m") else { return };
    let cluster = disk.start().unwrap();
    let programs = cluster.programs().folder().to_owned();
    run(&mut day(&cluster), "INSERT INTO fact VALUES ('kept')");
    cluster.stop().unwrap();
    disk.fill();
    match disk.start() {
        Ok(cluster) => assert_eq!(count_facts(&mut day(&cluster)), 1),
        Err(error) => assert_full(&error, &disk),
    }
    disk.make_room();
    let cluster = disk.start().unwrap();
    assert_eq!(count_facts(&mut day(&cluster)), 1);
    cluster.stop().unwrap();
    disk.verify(&programs);
}
