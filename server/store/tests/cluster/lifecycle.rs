//! Starting, using, stopping, starting again.

use std::{fs, os::unix::fs::PermissionsExt, thread};

use rustix::process::Signal;
use sellion_store::cluster::{Cluster, ClusterError, Durability, address_of_running};

use crate::support::{TestHome, ask, connect, count_facts, day, eventually, is_root, kill, run};

#[test]
fn what_was_stored_is_there_after_a_stop_and_a_start() {
    let home = TestHome::new();
    let cluster = Cluster::start(&home.options(Durability::Durable)).unwrap();
    run(&mut day(&cluster), "INSERT INTO fact VALUES ('first run')");
    cluster.stop().unwrap();
    assert_eq!(home.servers(), [], "the server outlived its stop");
    assert!(!home.data().join("postmaster.pid").exists());

    let cluster = Cluster::start(&home.options(Durability::Durable)).unwrap();
    cluster.ensure_database("day").unwrap();
    assert_eq!(count_facts(&mut day(&cluster)), 1);
    drop(cluster);
    assert_eq!(home.servers(), [], "the server outlived its owner");
}

#[test]
fn a_durable_server_syncs_and_checks_and_listens_only_on_its_socket() {
    let home = TestHome::new();
    let cluster = Cluster::start(&home.options(Durability::Durable)).unwrap();
    let mut connection = day(&cluster);
    let expected = [
        ("fsync", "on"),
        ("synchronous_commit", "on"),
        ("full_page_writes", "on"),
        ("data_checksums", "on"),
        ("listen_addresses", ""),
        ("TimeZone", "UTC"),
        ("server_encoding", "UTF8"),
        ("max_connections", "20"),
    ];
    for (setting, value) in expected {
        assert_eq!(ask(&mut connection, &format!("current_setting('{setting}')")), value, "{setting}");
    }
    assert_eq!(ask(&mut connection, "lower('ÄŻ') || upper('é')"), "äżÉ");
    let mode = |name: &str| fs::metadata(home.path().join(name)).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode("data"), mode("run"), mode("log")), (0o700, 0o700, 0o700));
    assert_eq!(
        ask(&mut connection, "current_setting('server_version_num')")[..2],
        cluster.programs().major().to_string()
    );
}

#[test]
fn only_the_database_runs_as_another_user() {
    use std::os::unix::fs::MetadataExt;
    let home = TestHome::new();
    let before = rustix::process::geteuid();
    let cluster = home.start();
    let server = fs::metadata(format!("/proc/{}", cluster.server_pid().unwrap())).unwrap();
    assert_eq!(rustix::process::geteuid(), before);
    assert_eq!(server.uid(), home.owner().0);
    assert_ne!(server.uid(), 0);
    assert_eq!(is_root(), server.uid() != before.as_raw());
}

#[test]
fn errors_in_the_log_carry_no_personal_data() {
    let home = TestHome::new();
    let cluster = home.start();
    let mut connection = day(&cluster);
    run(
        &mut connection,
        "CREATE UNIQUE INDEX only_once ON fact (words); INSERT INTO fact VALUES ('Ada Example')",
    );
    let twice = diesel::RunQueryDsl::execute(
        diesel::sql_query("INSERT INTO fact VALUES ('Ada Example')"),
        &mut connection,
    );
    twice.unwrap_err();
    let log = fs::read_to_string(home.path().join("log/postgres.log")).unwrap();
    assert!(log.contains("only_once"), "the error itself is missing: {log}");
    assert!(!log.contains("Ada"), "{log}");
}

#[test]
fn names_with_every_awkward_letter_work() {
    let home = TestHome::named("a home's \"100%\" & schöne? #1=$x");
    let cluster = home.start();
    for name in ["o'clock \"x\" & y?z=1%20/é", "day", &"x".repeat(63)] {
        cluster.ensure_database(name).unwrap();
        cluster.ensure_database(name).unwrap();
        assert_eq!(ask(&mut connect(&cluster.database_url(name)), "current_database()"), name);
    }
    for name in ["", "a\0b", &"x".repeat(64)] {
        assert!(matches!(cluster.ensure_database(name), Err(ClusterError::DatabaseName { .. })), "{name:?}");
    }
}

#[test]
fn a_home_that_cannot_carry_a_socket_gets_a_short_folder_for_it() {
    for name in ["x".repeat(120), "with,comma".to_owned()] {
        let home = TestHome::named(&name);
        let cluster = home.start();
        let mut connection = day(&cluster);
        let setting = ask(&mut connection, "current_setting('unix_socket_directories')");
        let folder = std::path::PathBuf::from(setting.trim_matches('"'));
        assert!(!folder.starts_with(home.path()) && folder.is_dir(), "{}", folder.display());
        assert_eq!(fs::metadata(&folder).unwrap().permissions().mode() & 0o777, 0o700);
        cluster.stop().unwrap();
        assert!(!folder.exists(), "the socket's folder was left behind");
    }
}

#[test]
fn a_server_started_by_a_passing_thread_outlives_that_thread() {
    let home = TestHome::new();
    let options = home.options(Durability::Throwaway);
    let cluster = thread::spawn(move || Cluster::start(&options).unwrap()).join().unwrap();
    let pid = cluster.server_pid();
    // A shutdown by the death of the thread took 0.1 to 0.2 s when it was tried.
    thread::sleep(std::time::Duration::from_secs(1));
    assert_eq!(count_facts(&mut day(&cluster)), 0);
    assert_eq!(cluster.server_pid(), pid);
}

#[test]
fn a_running_server_is_found_from_outside_as_long_as_it_runs() {
    for name in ["home", "a \"home\", with a comma"] {
        let home = TestHome::named(name);
        assert_eq!(address_of_running(home.path(), "day"), None);
        let cluster = home.start();
        drop(day(&cluster));
        let found = address_of_running(home.path(), "day").unwrap();
        assert_eq!(ask(&mut connect(&found), "current_database()"), "day");
        cluster.stop().unwrap();
        assert_eq!(address_of_running(home.path(), "day"), None);
    }
}

#[test]
fn many_at_once_may_ask_for_the_same_database() {
    let home = TestHome::new();
    let cluster = home.start();
    thread::scope(|scope| {
        let asks: Vec<_> = (0..6).map(|_| scope.spawn(|| cluster.ensure_database("day"))).collect();
        for asked in asks {
            asked.join().unwrap().unwrap();
        }
    });
    assert_eq!(count_facts(&mut day(&cluster)), 0);
}

#[test]
fn a_killed_server_is_started_again_with_everything_committed() {
    let home = TestHome::new();
    let cluster = home.start();
    let mut connection = day(&cluster);
    run(&mut connection, "INSERT INTO fact VALUES ('before')");
    let first = cluster.server_pid().unwrap();
    kill(first, Signal::KILL);
    eventually("the trouble is told", || cluster.trouble().is_some());
    eventually("another server runs", || {
        cluster.trouble().is_none() && cluster.server_pid().is_some_and(|pid| pid != first)
    });
    assert_eq!(count_facts(&mut day(&cluster)), 1);
    cluster.stop().unwrap();
    assert_eq!(home.servers(), []);
}

#[test]
fn a_stop_during_the_pause_before_a_restart_is_not_kept_waiting() {
    let home = TestHome::new();
    let cluster = home.start();
    kill(cluster.server_pid().unwrap(), Signal::KILL);
    eventually("the trouble is told", || cluster.trouble().is_some());
    let begun = std::time::Instant::now();
    cluster.stop().unwrap();
    assert!(begun.elapsed() < std::time::Duration::from_secs(10), "{:?}", begun.elapsed());
    eventually("nothing is left", || home.servers().is_empty());
}

#[test]
fn logs_of_earlier_starts_are_kept_and_limited() {
    let home = TestHome::new();
    for _ in 0..8 {
        home.start().stop().unwrap();
    }
    let names = fs::read_dir(home.path().join("log")).unwrap();
    let kept =
        names.filter(|entry| entry.as_ref().unwrap().file_name().to_string_lossy().starts_with("postgres"));
    assert_eq!(kept.count(), 6);
}
