//! Several people at the shelves at once, in random interleavings: nothing is lost, doubled, or taken twice.

use std::{
    collections::HashSet,
    sync::atomic::{AtomicI64, Ordering},
};

use chrono::{DateTime, TimeDelta, Utc};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Hospital,
    day::{fill_body, id_of},
    stores::{movement_body, on_hand, placement_body, volumes},
};
use serde_json::{Value, json};
use uuid::Uuid;

const CLERKS: u8 = 4;
const STEPS: u32 = 50;
/// Each clerk's own.
const NEBULIZERS: usize = 3;
/// What a bottle of the tests holds when it comes.
const RECEIVED_UL: i64 = 55_000;

/// What a clerk did that the server took.
#[derive(Debug, Clone)]
struct Taken {
    id: Uuid,
    bottle: usize,
    deed: Deed,
    at: DateTime<Utc>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Deed {
    /// Filled, thrown away or spilled.
    Gone(&'static str, i64),
    Count(i64),
    Way,
}

/// What everybody reaches for.
struct Shelf<'h> {
    hospital: &'h Hospital,
    lot: Value,
    bottles: Vec<Value>,
    stations: Vec<Value>,
    places: Vec<Uuid>,
    colleague: String,
    begin: DateTime<Utc>,
    moments: AtomicI64,
}

impl<'h> Shelf<'h> {
    fn set(hospital: &'h Hospital) -> Self {
        let day = hospital.day();
        let stations: Vec<Value> =
            (1..=2).map(|n| hospital.station(&day, &format!("Station {n}"), &["testing"])).collect();
        let lot = hospital.lot("saccharin", "test");
        let bottles = (0..3).map(|_| hospital.opened_bottle(&lot)).collect();
        let places =
            stations.iter().map(id_of).chain([hospital.storeroom(), hospital.filling_table()]).collect();
        for clerk in 0..CLERKS {
            (0..NEBULIZERS).for_each(|number| hospital.registers(&format!("{clerk}-{number}")));
        }
        let colleague = hospital.db_user(hospital.site_id, &[Role::Tester]);
        let (begin, moments) = (hospital.ago(3600), AtomicI64::new(0));
        Self { hospital, lot, bottles, stations, places, colleague, begin, moments }
    }

    /// A moment that nobody else gets.
    fn moment(&self) -> DateTime<Utc> {
        self.begin + TimeDelta::milliseconds(self.moments.fetch_add(1, Ordering::Relaxed))
    }

    /// Lets all clerks loose at once; what the server took of each.
    fn worked(&self, only_fills: bool) -> Vec<Taken> {
        std::thread::scope(|scope| {
            let clerks: Vec<_> =
                (0..CLERKS).map(|clerk| scope.spawn(move || self.work(clerk, only_fills))).collect();
            clerks.into_iter().flat_map(|clerk| clerk.join().unwrap()).collect()
        })
    }

    /// One clerk's random deeds, each sent twice now and then as if the answer had been lost.
    fn work(&self, clerk: u8, only_fills: bool) -> Vec<Taken> {
        let mut random = ChaCha8Rng::seed_from_u64(clerk.into());
        let client = self.hospital.signed_in(Role::Tester);
        let mut taken = Vec::new();
        for _ in 0..STEPS {
            let (bottle, at) = (below(&mut random, self.bottles.len()), self.moment());
            let dice = if only_fills { 0 } else { below(&mut random, 10) };
            let (path, body, deed) = self.deed(&mut random, (clerk, dice, bottle), at);
            let reply = client.post(&path, &body);
            if below(&mut random, 4) == 0 {
                let again = client.post(&path, &body);
                // What was refused may be taken later, when somebody has counted or brought it back meanwhile.
                assert!(reply.status != 201 || again.status == 201, "{}", again.text());
                if reply.status != 201 && again.status == 201 {
                    taken.push(Taken { id: id_of(&body), bottle, deed, at });
                    continue;
                }
            }
            if reply.status == 201 {
                taken.push(Taken { id: id_of(&body), bottle, deed, at });
                continue;
            }
            let problem: Value = serde_json::from_slice(&reply.body).unwrap();
            let known = ["bottle_empty", "bottle_elsewhere", "moved_meanwhile"];
            assert!(known.iter().any(|code| problem["code"] == *code), "{problem}");
        }
        taken
    }

    fn deed(
        &self,
        random: &mut ChaCha8Rng,
        (clerk, dice, bottle): (u8, usize, usize),
        at: DateTime<Utc>,
    ) -> (String, Value, Deed) {
        let target = &self.bottles[bottle];
        let movements = format!("/api/v1/bottles/{}/movements", id_of(target));
        let volume = i64::try_from(below(random, 40) + 1).unwrap() * 100;
        match dice {
            0..=3 => {
                let station = &self.stations[below(random, self.stations.len())];
                let nebulizer = format!("{clerk}-{}", below(random, NEBULIZERS));
                let mut body = fill_body(station, target, &nebulizer, at);
                body["volume_ul"] = json!(volume);
                ("/api/v1/fills".to_owned(), body, Deed::Gone("fill", volume))
            }
            4 => (movements, movement_body("spill", volume, at), Deed::Gone("spill", volume)),
            5 => (movements, movement_body("discard", volume, at), Deed::Gone("discard", volume)),
            6 => (movements, movement_body("count", volume * 10, at), Deed::Count(volume * 10)),
            _ => {
                let from = below(random, self.places.len());
                let to = (from + 1 + below(random, self.places.len() - 1)) % self.places.len();
                let mut body = placement_body(Some(self.places[from]), self.places[to], at);
                body["reason"] = json!("as it came to hand");
                body["handed_to"] = json!(self.colleague);
                (format!("/api/v1/bottles/{}/placements", id_of(target)), body, Deed::Way)
            }
        }
    }
}

fn below(random: &mut ChaCha8Rng, limit: usize) -> usize {
    random.random_range(0..limit)
}

/// The books of one bottle, kept apart from the program: the newest count and what went after it.
fn books(taken: &[Taken], bottle: usize) -> (i64, i64) {
    let mut of_bottle: Vec<_> = taken.iter().filter(|taken| taken.bottle == bottle).collect();
    of_bottle.sort_by_key(|taken| taken.at);
    let (mut held, mut differences) = (RECEIVED_UL, 0);
    for taken in of_bottle {
        match taken.deed {
            Deed::Gone(_, volume) => held -= volume,
            Deed::Count(found) => {
                differences += found - held;
                held = found;
            }
            Deed::Way => {}
        }
    }
    (held, differences)
}

fn gone(taken: &[Taken], how: &str) -> i64 {
    let volumes = taken.iter().filter_map(|taken| match taken.deed {
        Deed::Gone(word, volume) if word == how => Some(volume),
        _ => None,
    });
    volumes.sum()
}

/// Conservation to the microlitre: what came and what counts found is what is held and what is gone.
#[test]
fn whatever_is_done_at_once_the_books_add_up_and_nothing_is_lost_or_doubled() {
    let hospital = Hospital::open();
    let shelf = Shelf::set(&hospital);
    let taken = shelf.worked(false);
    let client = hospital.signed_in(Role::Storekeeper);
    let mut differences = 0;
    for (number, bottle) in shelf.bottles.iter().enumerate() {
        let (held, difference) = books(&taken, number);
        assert_eq!(on_hand(&client, bottle), held, "bottle {number}");
        differences += difference;
        let ledger = client.get(&format!("/api/v1/bottles/{}/ledger", id_of(bottle))).ok(200);
        let told = |list: &Value| list.as_array().unwrap().iter().map(id_of).collect::<Vec<_>>();
        let entries = told(&ledger["entries"]);
        let mine: HashSet<Uuid> = taken
            .iter()
            .filter(|taken| taken.bottle == number && taken.deed != Deed::Way)
            .map(|taken| taken.id)
            .chain([id_of(bottle)])
            .collect();
        assert_eq!(entries.len(), mine.len(), "each once");
        assert_eq!(entries.into_iter().collect::<HashSet<_>>(), mine);
        let ways = ledger["placements"].as_array().unwrap();
        for pair in ways.windows(2) {
            assert_eq!(
                pair[0]["to_place_id"], pair[1]["from_place_id"],
                "nobody took it from where it was not"
            );
        }
        let listed: HashSet<Uuid> = told(&ledger["placements"]).into_iter().collect();
        let moved = taken.iter().filter(|taken| taken.bottle == number && taken.deed == Deed::Way);
        assert!(moved.map(|taken| taken.id).all(|id| listed.contains(&id)));
    }
    let found = volumes(&client, &shelf.lot);
    let filled = found["in_nebulizers_ul"].as_i64().unwrap() + found["used_ul"].as_i64().unwrap();
    assert_eq!(filled, gone(&taken, "fill"), "{found}");
    assert_eq!(found["spilled_ul"], gone(&taken, "spill"), "{found}");
    assert_eq!(found["discarded_ul"], gone(&taken, "discard"), "{found}");
    assert_eq!(found["difference_ul"], differences, "{found}");
}

#[test]
fn nobody_fills_past_the_end_of_a_bottle_however_many_try_at_once() {
    let hospital = Hospital::open();
    let shelf = Shelf::set(&hospital);
    let taken = shelf.worked(true);
    let client = hospital.signed_in(Role::Storekeeper);
    for (number, bottle) in shelf.bottles.iter().enumerate() {
        let (held, _) = books(&taken, number);
        assert!(held >= 0, "bottle {number} gave {} more than it held", -held);
        assert_eq!(on_hand(&client, bottle), held);
    }
    let asked = usize::from(CLERKS) * usize::try_from(STEPS).unwrap();
    assert!(taken.len() < asked, "some had to be refused, or this proves nothing");
}
