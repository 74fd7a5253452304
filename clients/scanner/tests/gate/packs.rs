//! The pack on the disk: believed only as it was signed, and never replaced by an older one.

use std::fs;

use chrono::{DateTime, TimeDelta, Utc};
use sellion_badge::pack::{BadgeColumns, Current, Draft, Made};
use sellion_badge::{KeyRing, Read, Serial, SigningKey};
use sellion_gate::clock::Clock;
use sellion_gate::gate::Gate;
use sellion_gate::held::{Held, NotTaken};
use sellion_gate::home::Home;
use sellion_rules::gate::{Answer, BadgeStatus};
use uuid::Uuid;

struct Issuer {
    key: SigningKey,
    ring: KeyRing,
}

impl Issuer {
    fn new() -> Self {
        let key = SigningKey::generate().unwrap();
        let mut ring = KeyRing::new();
        ring.insert(key.verifying_key().clone()).unwrap();
        Self { key, ring }
    }

    fn pack(&self, gate: Uuid, badges: usize, at: DateTime<Utc>) -> (Made, String) {
        let badge = |index| {
            let serial = Serial::from_number(index as u64 + 1).unwrap();
            (index, serial, at + TimeDelta::days(300), BadgeStatus::Valid)
        };
        let columns = BadgeColumns::of((0..badges).map(badge));
        let draft = Draft {
            issuer: "0123456789ab".to_owned(),
            gate,
            gate_name: format!("Gate {}", gate.simple()),
            zone: "Europe/Lisbon".to_owned(),
            issued_at: at,
            keys: &self.ring,
            status_list: String::new(),
            policies: Vec::new(),
            respirators: Vec::new(),
            badges: &columns,
            clearances: Vec::new(),
            unclaimed_after_days: None,
        };
        let made = draft.sign(b"", &self.key).unwrap();
        let current = Current { gate, content: made.content.clone(), at };
        (made, current.sign(&self.key).unwrap())
    }
}

const GATE: Uuid = Uuid::from_u128(7);

fn home() -> (tempfile::TempDir, Home) {
    let folder = tempfile::tempdir().unwrap();
    let home = Home::open(folder.path()).unwrap();
    (folder, home)
}

fn now() -> DateTime<Utc> {
    Clock::new().read().wall
}

fn not_taken(error: &anyhow::Error) -> &NotTaken {
    error.downcast_ref().expect("a pack that was not taken")
}

#[test]
fn a_pack_is_held_across_a_restart() {
    let (_folder, home) = home();
    let issuer = Issuer::new();
    assert!(Held::load(&home).unwrap().is_none());
    let (made, current) = issuer.pack(GATE, 3, now() - TimeDelta::hours(1));
    let held = Held::take(&home, None, Some(&issuer.ring), (&made.text, &current)).unwrap();
    let newer = Current { gate: GATE, content: made.content, at: now() }.sign(&issuer.key).unwrap();
    let held = held.still(&home, &newer).unwrap();
    let again = Held::load(&home).unwrap().unwrap();
    assert_eq!((again.pack.badges(), again.known_at), (3, held.known_at));
}

#[test]
fn an_older_pack_or_one_of_another_gate_changes_nothing() {
    let (_folder, home) = home();
    let issuer = Issuer::new();
    let (made, current) = issuer.pack(GATE, 3, now());
    let held = Held::take(&home, None, Some(&issuer.ring), (&made.text, &current)).unwrap();
    let older = issuer.pack(GATE, 2, now() - TimeDelta::hours(1));
    let error = Held::take(&home, Some(&held), None, (&older.0.text, &older.1)).unwrap_err();
    assert!(matches!(not_taken(&error), NotTaken::Older(..)), "{error}");
    let elsewhere = issuer.pack(Uuid::from_u128(8), 2, now());
    let error = Held::take(&home, Some(&held), None, (&elsewhere.0.text, &elsewhere.1)).unwrap_err();
    assert!(matches!(not_taken(&error), NotTaken::OtherGate(..)), "{error}");
    let forged = Issuer::new().pack(GATE, 9, now());
    let error = Held::take(&home, Some(&held), None, (&forged.0.text, &forged.1)).unwrap_err();
    assert!(matches!(not_taken(&error), NotTaken::Pack(_)), "{error}");
    let swapped = issuer.pack(GATE, 5, now()).1;
    assert!(held.still(&home, &swapped).is_err(), "the word for another pack");
    assert_eq!(Held::load(&home).unwrap().unwrap().pack.badges(), 3);
}

#[test]
fn a_pack_from_before_a_key_was_withdrawn_is_refused_from_then_on() {
    let (_folder, home) = home();
    let (before, after) = (Issuer::new(), Issuer::new());
    let (old, old_word) = before.pack(GATE, 3, now() - TimeDelta::minutes(2));
    let held = Held::take(&home, None, Some(&before.ring), (&old.text, &old_word)).unwrap();
    // The new key is published, the old one no more.
    let (new, new_word) = after.pack(GATE, 4, now() - TimeDelta::minutes(1));
    let held = Held::take(&home, Some(&held), Some(&after.ring), (&new.text, &new_word)).unwrap();
    // Whoever has the withdrawn key signs a younger pack with it.
    let (forged, word) = before.pack(GATE, 9, now());
    let error = Held::take(&home, Some(&held), None, (&forged.text, &word)).unwrap_err();
    assert!(matches!(not_taken(&error), NotTaken::Pack(_)), "{error}");
}

#[test]
fn whatever_is_altered_on_the_disk_is_not_believed() {
    let (_folder, home) = home();
    let issuer = Issuer::new();
    let (made, current) = issuer.pack(GATE, 3, now());
    Held::take(&home, None, Some(&issuer.ring), (&made.text, &current)).unwrap();
    let whole = fs::read(home.path("pack")).unwrap();
    let gate = Gate::empty(home.clone(), Clock::new());
    // The first line is the keys, whose own members carry no signature; a wrong key opens nothing.
    let first = whole.iter().position(|byte| *byte == b'\n').unwrap() + 1;
    for place in (first..whole.len() - 1).step_by(37) {
        let mut altered = whole.clone();
        altered[place] = if altered[place] == b'A' { b'B' } else { b'A' };
        fs::write(home.path("pack"), &altered).unwrap();
        assert!(gate.load().is_err(), "a byte at {place}");
        fs::write(home.path("pack"), &whole[..place]).unwrap();
        assert!(gate.load().is_err(), "cut at {place}");
    }
    let shown = gate.scan(&Read::line("7KQ2M-XW9RD"));
    assert_eq!(shown.answer, Answer::CannotConfirm, "without a pack nobody can tell");
    fs::write(home.path("pack"), &whole).unwrap();
    gate.load().unwrap();
}

#[test]
fn a_clock_set_back_stops_answers_until_somebody_looks_at_it() {
    let (_folder, home) = home();
    let issuer = Issuer::new();
    let (made, current) = issuer.pack(GATE, 3, now() - TimeDelta::days(9));
    Held::take(&home, None, Some(&issuer.ring), (&made.text, &current)).unwrap();
    let clock = Clock::new();
    let gate = Gate::open(home.clone(), clock.clone()).unwrap();
    let badge = Read::typed(&Serial::from_number(1).unwrap().to_string());
    assert_eq!(gate.scan(&badge).doubt, None);
    clock.set_ahead(-TimeDelta::days(8));
    let shown = gate.scan(&badge);
    assert_eq!(shown.answer, Answer::CannotConfirm);
    assert!(shown.doubt.is_some(), "{shown:?}");
    let stranger = gate.scan(&Read::line("hello"));
    assert_eq!((stranger.answer, stranger.doubt), (Answer::NotValid, None), "that needs no clock");
    gate.remember(&gate.look_at_clock().confirmed());
    assert_eq!(gate.scan(&badge).doubt, None);
    assert_eq!(gate.queue.contents().unwrap().waiting.len(), 4, "all of them are kept");
}
