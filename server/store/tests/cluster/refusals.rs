//! What cannot work is refused in one sentence that says why and what to do.

use std::{
    fs,
    os::unix::fs::{PermissionsExt, chown},
    process::{Command, Stdio},
};

use crate::{
    other_process::OtherProcess,
    support::{TestHome, connect, count_facts, day, is_root, left_out},
};

#[track_caller]
fn assert_says(sentence: &str, parts: &[&str]) {
    assert!(sentence.ends_with('.') && !sentence.contains('\n'), "{sentence}");
    for part in parts {
        assert!(sentence.contains(part), "`{part}` is missing: {sentence}");
    }
}

#[test]
fn a_second_start_on_the_same_home_names_the_folder_and_the_process() {
    let home = TestHome::new();
    let cluster = home.start();
    let folder = home.path().display().to_string();
    let own = format!("process {}", std::process::id());
    assert_says(&home.refusal(), &[&folder, &own, "already in use"]);
    let sentence = OtherProcess::start(home.path()).outcome().unwrap_err();
    assert_says(&sentence, &[&folder, &own, "already in use"]);
    assert_eq!(count_facts(&mut day(&cluster)), 0);
}

#[test]
fn a_database_of_another_version_names_both_versions() {
    let home = TestHome::new();
    let cluster = home.start();
    let major = cluster.programs().major();
    drop(day(&cluster));
    cluster.stop().unwrap();
    let file = home.data().join("PG_VERSION");
    for other in [major + 50, 9] {
        fs::write(&file, format!("{other}\n")).unwrap();
        let parts = [format!("made by PostgreSQL {other}"), major.to_string(), format!("postgresql-{other}")];
        assert_says(&home.refusal(), &parts.each_ref().map(String::as_str));
    }
    fs::write(&file, format!("{major}\n")).unwrap();
    assert_eq!(count_facts(&mut day(&home.start())), 0);
}

#[test]
fn a_folder_without_programs_is_named() {
    let home = TestHome::new();
    let mut options = home.options(sellion_store::cluster::Durability::Throwaway);
    options.programs = Some(home.top().to_owned());
    let sentence = sellion_store::cluster::Cluster::start(&options).unwrap_err().to_string();
    assert_says(&sentence, &[&home.top().display().to_string(), "initdb"]);
}

#[test]
fn a_machine_without_programs_is_told_what_to_install() {
    let home = TestHome::new();
    // A mount namespace of its own, in which Debian's folder of programs is empty.
    let hide = "mount -t tmpfs none /usr/lib/postgresql && exec \"$0\" \"$@\"";
    let hidden = |program: &std::ffi::OsStr| {
        let mut command = Command::new("unshare");
        command.args(["--mount", "sh", "-c", hide]).arg(program).env("PATH", "/usr/bin:/bin:/usr/sbin:/sbin");
        command
    };
    let possible =
        hidden("true".as_ref()).stderr(Stdio::null()).status().is_ok_and(|status| status.success());
    if !possible {
        return left_out("a machine without PostgreSQL", "it takes root and unshare to hide the programs");
    }
    let this = std::env::current_exe().unwrap();
    let sentence =
        OtherProcess::from_command(&mut hidden(this.as_os_str()), home.path()).outcome().unwrap_err();
    assert_says(&sentence, &["apt-get install postgresql", "dnf install postgresql-server", "DATABASE_URL"]);
}

#[test]
fn a_home_that_may_not_be_made_or_written_is_named() {
    let home = TestHome::named("closed/home");
    let closed = home.top().join("closed");
    fs::create_dir(&closed).unwrap();
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o555)).unwrap();
    // Root may write everywhere, so there the start is made as somebody else.
    let sentence = if is_root() {
        OtherProcess::start_as(65534, 65534, &home).outcome().unwrap_err()
    } else {
        home.refusal()
    };
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o755)).unwrap();
    assert_says(&sentence, &["cannot create", &home.path().display().to_string(), "permission denied"]);
}

#[test]
fn a_database_of_somebody_else_names_both_users() {
    if !is_root() {
        return left_out("a database of somebody else", "only root can give a folder away");
    }
    let home = TestHome::new();
    home.start().stop().unwrap();
    let open = |mode: u32| fs::set_permissions(home.path(), fs::Permissions::from_mode(mode)).unwrap();
    open(0o777);
    fs::remove_file(home.path().join("lock")).unwrap();
    let sentence = OtherProcess::start_as(65534, 65534, &home).outcome().unwrap_err();
    assert_says(
        &sentence,
        &["belongs to the user postgres, not to nobody", &home.data().display().to_string()],
    );
    fs::remove_file(home.path().join("lock")).unwrap();
    open(0o700);
    chown(home.data(), Some(0), Some(0)).unwrap();
    assert_says(&home.refusal(), &["belongs to root", "chown"]);
}

#[test]
fn an_ordinary_user_starts_a_database_of_their_own() {
    if !is_root() {
        return; // Then every other test here shows it.
    }
    let home = TestHome::new();
    fs::create_dir(home.path()).unwrap();
    chown(home.path(), Some(65534), Some(65534)).unwrap();
    let mut other = OtherProcess::start_as(65534, 65534, &home);
    let (_, url) = other.outcome().unwrap();
    connect(&url.replace("/day?", "/postgres?"));
    assert_eq!(home.owner().0, 65534);
    other.kill();
    crate::support::eventually("the server is gone", || home.servers().is_empty());
    // Root then finds the owner and runs it as them.
    assert_eq!(home.start().user(), "nobody");
}

#[test]
fn a_folder_that_is_closed_to_the_user_of_the_database_is_named() {
    if !is_root() {
        return left_out(
            "a folder closed to the database's user",
            "only root hands the database to another user",
        );
    }
    let home = TestHome::named("closed/home");
    let closed = home.top().join("closed");
    fs::create_dir(&closed).unwrap();
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o700)).unwrap();
    assert_says(&home.refusal(), &["postgres", &format!("may not enter {}:", closed.display()), "chmod o+x"]);
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o711)).unwrap();
    home.start();
}

#[test]
fn a_broken_setting_is_told_in_the_servers_own_words() {
    let home = TestHome::new();
    home.start().stop().unwrap();
    let file = home.data().join("postgresql.conf");
    let whole = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("{whole}\nnonsense = 1\n")).unwrap();
    assert_says(&home.refusal(), &["postgresql.conf\" contains errors", "log/postgres.log"]);
    fs::write(&file, whole).unwrap();
    home.start();
}
