//! `sellion key` as an administrator runs it, and what must never be seen of a private key.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and says where")]

use std::{
    fs::{self, Permissions},
    io::{BufRead, BufReader, Read, Write},
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

use aws_lc_rs::aead::{AES_256_GCM, Aad, LessSafeKey, NONCE_LEN, Nonce, UnboundKey};
use base64::{
    Engine,
    engine::general_purpose::{STANDARD_NO_PAD, URL_SAFE_NO_PAD},
};
use diesel::{
    QueryableByName, RunQueryDsl,
    sql_types::{Binary, Text},
};
use sellion_tests::{database::TestDatabase, harness::PASSWORD, program::program};
use sellion_web::Secret;
use serde_json::Value;
use tempfile::TempDir;

/// One installation: a database, and a secret in a file.
struct Installation {
    database: TestDatabase,
    folder: TempDir,
    /// Everything that any command has printed.
    said: Vec<u8>,
}

impl Installation {
    fn begin() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut begun = Self { database: TestDatabase::fresh(), folder, said: Vec::new() };
        Secret::from_file(&begun.secret_file()).unwrap();
        let site =
            ["--site", "Marrowfield", "--new-site", "--time-zone", "Europe/Lisbon", "--password-stdin"];
        let mut command = begun.command(&["user", "add", "ada", "--role", "admin"]);
        let mut child = command.args(site).stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
        child.stdin.take().unwrap().write_all(PASSWORD.as_bytes()).unwrap();
        assert!(child.wait().unwrap().success());
        begun.said.clear();
        begun
    }

    fn secret_file(&self) -> PathBuf {
        self.folder.path().join("secret")
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command
            .args(arguments)
            .env("DATABASE_URL", self.database.url())
            .env("SELLION_DATA", self.folder.path())
            .env("SELLION_SECRET_FILE", self.secret_file())
            .env_remove("SELLION_SECRET");
        command
    }

    fn run(&mut self, arguments: &[&str]) -> Output {
        let done = self.command(arguments).args(["--log", "trace"]).output().unwrap();
        self.said.extend([&done.stdout[..], &done.stderr[..]].concat());
        done
    }

    #[track_caller]
    fn done(&mut self, arguments: &[&str]) -> String {
        let done = self.run(arguments);
        assert!(done.status.success(), "{}", text(&done.stderr));
        text(&done.stdout)
    }

    /// Serves with every log line there is, lets `work` call it, and stops it.
    fn serve(&mut self, work: impl FnOnce(&str)) {
        let mut command = self.command(&["serve", "--listen", "127.0.0.1:0", "--log", "trace"]);
        let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap());
        let mut base = None;
        while base.is_none() {
            let mut line = String::new();
            assert_ne!(lines.read_line(&mut line).unwrap(), 0, "it ended before it listened");
            self.said.extend(line.as_bytes());
            base =
                line.strip_prefix("Listening on ").and_then(|rest| rest.split(' ').next().map(str::to_owned));
        }
        work(&base.unwrap());
        assert!(Command::new("kill").args(["-TERM", &child.id().to_string()]).status().unwrap().success());
        lines.read_to_end(&mut self.said).unwrap();
        assert!(child.wait().unwrap().success());
    }

    /// The private half of each key that still has one, as PKCS#8, opened as only the holder of the secret can.
    fn private_keys(&self) -> Vec<Vec<u8>> {
        let secret = Secret::from_file(&self.secret_file()).unwrap();
        let key = UnboundKey::new(&AES_256_GCM, &secret.key_for("signing keys")).unwrap();
        let key = LessSafeKey::new(key);
        let rows: Vec<Sealed> =
            diesel::sql_query("select kid, private_sealed from signing_keys where private_sealed <> ''")
                .load(&mut self.database.connect())
                .unwrap();
        let open = |row: Sealed| {
            let (nonce, sealed) = row.private_sealed[1..].split_first_chunk::<NONCE_LEN>().unwrap();
            let mut opened = sealed.to_vec();
            let nonce = Nonce::assume_unique_for_key(*nonce);
            key.open_in_place(nonce, Aad::from(row.kid), &mut opened).unwrap().to_vec()
        };
        rows.into_iter().map(open).collect()
    }

    fn dump(&self) -> Vec<u8> {
        let done = Command::new(pg_dump()).args(["--dbname", self.database.url()]).output().unwrap();
        assert!(done.status.success(), "{}", text(&done.stderr));
        done.stdout
    }
}

#[derive(QueryableByName)]
struct Sealed {
    #[diesel(sql_type = Text)]
    kid: String,
    #[diesel(sql_type = Binary)]
    private_sealed: Vec<u8>,
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Debian keeps the server's own programs out of the way.
fn pg_dump() -> PathBuf {
    let versions = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let installed = versions.map(|version| version.path().join("bin/pg_dump")).find(|path| path.is_file());
    installed.unwrap_or_else(|| Path::new("pg_dump").to_owned())
}

/// How a secret may look to somebody who greps for it.
fn forms(bytes: &[u8]) -> Vec<Vec<u8>> {
    let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let listed = bytes.iter().map(u8::to_string).collect::<Vec<_>>().join(", ");
    vec![
        bytes.to_vec(),
        hex.to_uppercase().into_bytes(),
        hex.into_bytes(),
        STANDARD_NO_PAD.encode(bytes).into_bytes(),
        URL_SAFE_NO_PAD.encode(bytes).into_bytes(),
        listed.into_bytes(),
    ]
}

fn holds(text: &[u8], part: &[u8]) -> bool {
    text.windows(part.len()).any(|window| window == part)
}

#[test]
fn no_private_key_is_seen_in_a_dump_of_the_database_or_in_any_log() {
    let mut town = Installation::begin();
    town.done(&["key", "create"]);
    town.done(&["key", "create"]);
    let before = town.private_keys();
    assert_eq!(before.len(), 2);
    town.serve(|base| {
        let set = ureq::get(format!("{base}/.well-known/jwks.json")).call().unwrap().into_body();
        assert_eq!(set.into_with_config().read_json::<Value>().unwrap()["keys"].as_array().unwrap().len(), 2);
    });
    town.done(&["key", "rotate"]);
    town.done(&["key", "list", "--json"]);
    let (dump, said) = (town.dump(), &town.said);
    let sealed: String =
        diesel::sql_query("select kid, private_sealed from signing_keys where private_sealed <> ''")
            .load::<Sealed>(&mut town.database.connect())
            .unwrap()
            .iter()
            .map(|row| row.private_sealed.iter().map(|byte| format!("{byte:02x}")).collect::<String>())
            .collect();
    assert!(holds(&dump, sealed.as_bytes()), "the search finds what is there");
    assert!(said.len() > 1000, "there are logs to look at");
    let secret = fs::read_to_string(town.secret_file()).unwrap();
    assert!(!holds(&dump, secret.trim().as_bytes()) && !holds(said, secret.trim().as_bytes()));
    for der in before {
        // RFC 5915 s.3: the private key is an octet string of 32 bytes.
        let place = der.windows(2).position(|tag| tag == [0x04, 0x20]).unwrap();
        let scalar = &der[place + 2..place + 34];
        for form in forms(scalar).into_iter().chain(forms(&der)) {
            assert!(!holds(&dump, &form), "in the dump");
            assert!(!holds(said, &form), "in the logs");
        }
    }
}

#[test]
fn keys_are_made_changed_and_withdrawn_by_command() {
    let mut town = Installation::begin();
    assert!(town.done(&["key", "list"]).contains("no key yet"));
    let refused = town.run(&["key", "rotate"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(text(&refused.stderr).contains("`sellion key create` makes one"), "{}", text(&refused.stderr));
    let first = town.done(&["key", "create"]).split(' ').next().unwrap().to_owned();
    assert!(town.done(&["key", "create"]).contains("stands by"));
    assert!(town.done(&["key", "rotate", "--site", "Marrowfield"]).contains(&first));
    let listed = town.done(&["key", "list", "--json"]);
    let states: Vec<Value> = listed.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(states.len(), 2);
    assert_eq!((&states[0]["kid"], &states[0]["state"]), (&Value::from(first.clone()), &"accepted".into()));
    assert_eq!((&states[1]["state"], &states[1]["badges_in_force"]), (&"signs".into(), &0.into()));

    let asked = town.run(&["key", "withdraw", &first]);
    assert_eq!(asked.status.code(), Some(1), "nothing is withdrawn by mistake");
    assert!(text(&asked.stderr).contains("--yes"), "{}", text(&asked.stderr));
    assert!(town.done(&["key", "withdraw", &first, "--yes"]).contains("0 badges ended"));
    let second = states[1]["kid"].as_str().unwrap();
    let refused = town.run(&["key", "retire", second]);
    assert!(text(&refused.stderr).contains("rotate to another one first"), "{}", text(&refused.stderr));
    for wrong in [&["key", "retire", "AAAAAAAA"][..], &["key", "list", "--site", "Nowhere"]] {
        assert_eq!(town.run(wrong).status.code(), Some(1), "{wrong:?}");
    }
    assert!(town.done(&["audit", "verify"]).contains("rows"));
}

#[test]
fn the_secret_comes_from_a_file_that_only_its_owner_reads_or_from_the_environment() {
    let mut town = Installation::begin();
    let hex = fs::read_to_string(town.secret_file()).unwrap();
    for mode in [0o640, 0o604, 0o660] {
        fs::set_permissions(town.secret_file(), Permissions::from_mode(mode)).unwrap();
        let refused = town.run(&["key", "create"]);
        assert_eq!(refused.status.code(), Some(1), "{mode:o}");
        assert!(text(&refused.stderr).contains("others may read"), "{}", text(&refused.stderr));
    }
    fs::set_permissions(town.secret_file(), Permissions::from_mode(0o600)).unwrap();
    town.done(&["key", "create"]);

    let from_environment = |value: &str| {
        let mut command = town.command(&["key", "create"]);
        command.env_remove("SELLION_SECRET_FILE").env("SELLION_SECRET", value).output().unwrap()
    };
    let nonsense = from_environment("not a secret");
    assert!(text(&nonsense.stderr).contains("hexadecimal"), "{}", text(&nonsense.stderr));
    assert!(!text(&nonsense.stderr).contains("not a secret"), "what was given is not repeated");
    let done = from_environment(&hex);
    assert!(done.status.success(), "{}", text(&done.stderr));
    let both = town.command(&["key", "rotate"]).env("SELLION_SECRET", &hex).output().unwrap();
    assert!(text(&both.stderr).contains("one of the two"), "{}", text(&both.stderr));

    let new = town.folder.path().join("next");
    let resealed = town.done(&["key", "reseal", "--new-secret-file", new.to_str().unwrap()]);
    assert!(resealed.starts_with("2 keys"), "{resealed}");
    assert_eq!(fs::metadata(&new).unwrap().permissions().mode() & 0o777, 0o600);
    let old = town.command(&["serve", "--listen", "127.0.0.1:0"]).output().unwrap();
    assert!(text(&old.stderr).contains("another secret"), "{}", text(&old.stderr));
}
