//! Histories as statements: what a station day may leave behind, invented by dice.

use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use sellion_rules::look_back::Span;
use sellion_store::look_back::Asked;
use uuid::Uuid;

/// Numbers that look random and are the same on every run (splitmix64).
pub(super) struct Dice(pub(super) u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.next() % (bound as u64)).unwrap()
    }

    fn minute(&mut self, bound: i64) -> i64 {
        i64::try_from(self.below(usize::try_from(bound).unwrap())).unwrap()
    }

    fn often(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }
}

/// A history as statements, and what there is to ask about.
pub(super) struct History {
    pub(super) site: Uuid,
    zero: DateTime<Utc>,
    pub(super) sql: String,
    pub(super) asked: Vec<Asked>,
}

impl History {
    fn at(&self, minute: i64) -> DateTime<Utc> {
        self.zero + TimeDelta::minutes(minute)
    }

    fn row(&mut self, table: &str, columns: &str, values: &str) {
        self.sql +=
            &format!("insert into {table} (site_id, {columns}) values ('{}', {values});\n", self.site);
    }

    fn recorded(&self, dice: &mut Dice, minute: i64) -> String {
        // A tenth of everything comes in late.
        let late = if dice.often(10) { dice.minute(300) } else { 0 };
        format!("'{}', '{}'", self.at(minute).to_rfc3339(), self.at(minute + late).to_rfc3339())
    }
}

fn quoted(id: Option<Uuid>) -> String {
    id.map_or("null".to_owned(), |id| format!("'{id}'"))
}

const LIQUIDS: [(&str, &str); 4] = [
    ("saccharin", "screening"),
    ("saccharin", "test"),
    ("saccharin", "test"),
    ("denatonium_benzoate", "test"),
];

pub(super) fn invent(dice: &mut Dice, site: Uuid, zero: DateTime<Utc>) -> History {
    let mut history = History { site, zero, sql: String::new(), asked: Vec::new() };
    history.sql += &format!(
        "insert into sites (id, name, time_zone, rule_set_name, rule_set_version) \
         select '{site}', '{site}', time_zone, rule_set_name, rule_set_version from sites limit 1;\n"
    );
    let testers = [Uuid::now_v7(), Uuid::now_v7()];
    for tester in testers {
        history.row(
            "users",
            "id, username, display_name, password_hash, roles",
            &format!("'{tester}', '{}', 'Oda Brennick', '-', array['tester']", tester.simple()),
        );
    }
    let stations = stations(dice, &mut history);
    let bottles = bottles(dice, &mut history);
    let hood = equipment(dice, &mut history, &stations);
    placements(dice, &mut history, &bottles, &stations);
    let fills = fills(dice, &mut history, &bottles, &stations);
    gaps(dice, &mut history, &stations);
    runs(dice, &mut history, &fills, &testers, hood);
    for tester in testers {
        let span = spanned(dice, &history);
        history.asked.push(Asked::Tester(tester, span));
    }
    history
}

fn spanned(dice: &mut Dice, history: &History) -> Span {
    let (from, length) = (dice.minute(600), 1 + dice.minute(300));
    Span {
        from: dice.often(60).then(|| history.at(from)),
        until: dice.often(60).then(|| history.at(from + length)),
    }
}

fn stations(dice: &mut Dice, history: &mut History) -> Vec<Uuid> {
    let days = [Uuid::now_v7(), Uuid::now_v7()];
    let mut stations = Vec::new();
    for number in 0..4 {
        let id = Uuid::now_v7();
        let day = if number < 3 { days[0] } else { days[1] };
        history.row(
            "stations",
            "id, day_id, name, parts",
            &format!("'{id}', '{day}', 'Station {number}', array['testing']"),
        );
        stations.push(id);
    }
    let (from, length) = (dice.minute(500), 1 + dice.minute(200));
    let span = Span { from: Some(history.at(from)), until: Some(history.at(from + length)) };
    history.asked.push(Asked::Station(stations[0], span));
    stations
}

/// The last minute of a history: some days after its first, so that what is left in a nebulizer may last over nights.
const LATEST: i64 = 3 * 24 * 60;

/// Bottles with the number of their liquid.
fn bottles(dice: &mut Dice, history: &mut History) -> Vec<(Uuid, usize)> {
    let mut bottles = Vec::new();
    for (liquid, (agent, solution)) in LIQUIDS.iter().enumerate() {
        let lot = Uuid::now_v7();
        let times = history.recorded(dice, -100);
        history.row(
            "lots",
            "id, agent, solution, lot_number, printed_expiry, expires_on, happened_at, recorded_at, recorded_by",
            &format!("'{lot}', '{agent}', '{solution}', '{lot}', '2099-12', '2099-12-31', {times}, '{lot}'"),
        );
        history.asked.push(Asked::Lot(lot));
        for _ in 0..=dice.below(2) {
            let id = Uuid::now_v7();
            // Some come in the middle of the day.
            let minute = if dice.often(30) { dice.minute(400) } else { -60 };
            let times = history.recorded(dice, minute);
            history.row(
                "bottles",
                "id, lot_id, label, volume_ul, happened_at, recorded_at, recorded_by",
                &format!("'{id}', '{lot}', '{id}', 55000, {times}, '{id}'"),
            );
            history.asked.push(Asked::Bottle(id));
            bottles.push((id, liquid));
        }
    }
    // A lot that was made from a bottle of another one.
    if dice.often(30) {
        let (from, into) = (bottles[0].0, dice.one(&bottles[1..]).0);
        let times = history.recorded(dice, -80);
        history.row(
            "bottle_movements",
            "id, bottle_id, movement, volume_ul, guessed, reason, happened_at, recorded_at, recorded_by, \
             prepared_lot_id",
            &format!(
                "'{}', '{from}', 'prepare', 10, false, 'made', {times}, '{from}', \
                 (select lot_id from bottles where id = '{into}')",
                Uuid::now_v7()
            ),
        );
    }
    bottles
}

fn equipment(dice: &mut Dice, history: &mut History, stations: &[Uuid]) -> Uuid {
    let [hood, nebulizer, other] = [Uuid::now_v7(), Uuid::now_v7(), Uuid::now_v7()];
    let columns = "id, kind, label, contact_seconds, happened_at, recorded_at, recorded_by";
    let times = history.recorded(dice, -90);
    history.row("equipment", columns, &format!("'{hood}', 'hood', 'H', 0, {times}, '{hood}'"));
    let times = history.recorded(dice, -90);
    history.row("equipment", columns, &format!("'{nebulizer}', 'nebulizer', 'A', null, {times}, '{hood}'"));
    let times = history.recorded(dice, -90);
    history.row("equipment", columns, &format!("'{other}', 'nebulizer', 'B', null, {times}, '{hood}'"));
    for (id, percent) in [(hood, 50), (nebulizer, 50)] {
        if dice.often(percent) {
            put(dice, history, ("equipment_id", id), stations);
        }
        let span = spanned(dice, history);
        history.asked.push(Asked::Equipment(id, span));
    }
    for _ in 0..dice.below(4) {
        let (minute, rinsed) = (dice.minute(LATEST), dice.one(&[nebulizer, other]));
        let times = history.recorded(dice, minute);
        history.row(
            "equipment_checks",
            "id, equipment_id, finding, happened_at, recorded_at, recorded_by",
            &format!("'{}', '{rinsed}', 'rinsed', {times}, '{hood}'", Uuid::now_v7()),
        );
    }
    // Liquid of one is poured into the other, either way.
    for _ in 0..dice.below(3) {
        let (minute, turned) = (dice.minute(LATEST), dice.often(50));
        let (into, from) = if turned { (nebulizer, other) } else { (other, nebulizer) };
        let times = history.recorded(dice, minute);
        history.row(
            "equipment_checks",
            "id, equipment_id, other_equipment_id, finding, happened_at, recorded_at, recorded_by",
            &format!("'{}', '{into}', '{from}', 'mixed_up', {times}, '{hood}'", Uuid::now_v7()),
        );
    }
    hood
}

/// Puts something here and there, at different minutes; some places are no stations.
fn put(dice: &mut Dice, history: &mut History, (column, id): (&str, Uuid), stations: &[Uuid]) {
    let minutes: BTreeSet<i64> = (0..=dice.below(3)).map(|_| dice.minute(700) - 50).collect();
    for minute in minutes {
        let place = if dice.often(80) { dice.one(stations) } else { Uuid::now_v7() };
        let times = history.recorded(dice, minute);
        history.row(
            "placements",
            &format!("id, {column}, movement, to_place_id, happened_at, recorded_at, recorded_by"),
            &format!("'{}', '{id}', 'move', '{place}', {times}, '{id}'", Uuid::now_v7()),
        );
    }
}

fn placements(dice: &mut Dice, history: &mut History, bottles: &[(Uuid, usize)], stations: &[Uuid]) {
    for (bottle, _) in bottles {
        if dice.often(70) {
            put(dice, history, ("bottle_id", *bottle), stations);
        }
    }
}

/// A filling with its station, its liquid and its minute.
type Fill = (Uuid, Uuid, usize, i64);

fn fills(dice: &mut Dice, history: &mut History, bottles: &[(Uuid, usize)], stations: &[Uuid]) -> Vec<Fill> {
    let mut fills: Vec<Fill> = Vec::new();
    for _ in 0..10 {
        let (id, (bottle, liquid), station) = (Uuid::now_v7(), dice.one(bottles), dice.one(stations));
        let minute = begins(stations, station) + dice.minute(500);
        let nebulizer = dice.one(&["A", "A", "B", "B", "C"]);
        let below = dice.often(25).then(|| fills.iter().rfind(|fill| fill.3 < minute)).flatten();
        let below = below.map(|fill| fill.0);
        let rinsed = below.is_none() && dice.often(40);
        let times = history.recorded(dice, minute);
        history.row(
            "fills",
            "id, station_id, bottle_id, nebulizer, volume_ul, rinsed, topped_up_fill_id, happened_at, recorded_at, \
             recorded_by",
            &format!(
                "'{id}', '{station}', '{bottle}', '{nebulizer}', 1000, {rinsed}, {}, {times}, '{id}'",
                quoted(below)
            ),
        );
        history.asked.push(Asked::Fill(id));
        fills.push((id, station, liquid, minute));
        if dice.often(30) {
            let after = minute + dice.minute(120);
            let (rinsed, times) = (dice.often(60), history.recorded(dice, after));
            history.row(
                "fill_emptyings",
                "id, fill_id, rinsed, happened_at, recorded_at, recorded_by",
                &format!("'{}', '{id}', {rinsed}, {times}, '{id}'", Uuid::now_v7()),
            );
        }
    }
    fills
}

/// The first minute of a station's day: the last station is of a day two nights later, with the same nebulizers.
fn begins(stations: &[Uuid], station: Uuid) -> i64 {
    if stations.last() == Some(&station) { 2 * 24 * 60 } else { 0 }
}

fn gaps(dice: &mut Dice, history: &mut History, stations: &[Uuid]) {
    for _ in 0..dice.below(3) {
        let station = dice.one(stations);
        let (from, length) = (begins(stations, station) + dice.minute(500), 1 + dice.minute(90));
        let agent = dice.one(&["null", "'saccharin'", "'denatonium_benzoate'"]);
        let solution = dice.one(&["null", "'screening'", "'test'"]);
        let times = history.recorded(dice, from + length);
        let (from, until) = (history.at(from).to_rfc3339(), history.at(from + length).to_rfc3339());
        history.row(
            "fill_gaps",
            "id, station_id, agent, solution, from_at, until_at, reason, happened_at, recorded_at, recorded_by",
            &format!(
                "'{}', '{station}', {agent}, {solution}, '{from}', '{until}', 'lost', {times}, '{station}'",
                Uuid::now_v7()
            ),
        );
    }
}

fn runs(dice: &mut Dice, history: &mut History, fills: &[Fill], testers: &[Uuid], hood: Uuid) {
    let people: Vec<Uuid> = (0..7).map(|_| Uuid::now_v7()).collect();
    for person in &people {
        let name = format!("'{person}', '{person}', 'Oda', 'Brennick'");
        history.row("people", "id, staff_number, given_name, family_name", &name);
    }
    let mut screenings = Vec::new();
    for number in 0..24 {
        let (fill, station, liquid, filled) = dice.one(fills);
        let (agent, solution) = LIQUIDS[liquid];
        let (id, person, tester) = (Uuid::now_v7(), dice.one(&people), dice.one(testers));
        let hood = quoted(dice.often(50).then_some(hood));
        let began = filled + dice.minute(120);
        let times = history.recorded(dice, began);
        let ended = history.at(began + dice.minute(15)).to_rfc3339();
        let run = format!("'{id}', '{id}', '{person}', '{station}'");
        let rest = format!("'-', '-', '{{}}', {times}, '{tester}'");
        if solution == "screening" {
            history.row(
                "screenings",
                "id, visit_id, person_id, station_id, agent, fill_id, hood_id, rule_set_name, rule_set_version, \
                 setup, happened_at, recorded_at, recorded_by",
                &format!("{run}, '{agent}', '{fill}', {hood}, {rest}"),
            );
            history.sql += &format!(
                "insert into screening_verdicts (screening_id, outcome, reason, level, squeezes, ended_at, recorded_at) \
                 values ('{id}', 'level', 'tasted', 10, 7, '{ended}', '{ended}');\n"
            );
            screenings.push(id);
            continue;
        }
        let measured = number % 8 == 0;
        let (method, fill) = if measured { ("ambient_aerosol", None) } else { (agent, Some(fill)) };
        if !measured && screenings.is_empty() {
            continue;
        }
        let screening = (!measured).then(|| dice.one(&screenings));
        // Each on a respirator of its own, so that each has a clearance of its own.
        history.row(
            "respirators",
            "id, number, make, model, style, size, facepiece, filter_class, protection_factor",
            &format!("'{id}', {number}, 'Orlevane', '{number}', '-', '-', 'filtering_facepiece', 'N95', 10"),
        );
        history.row(
            "attempts",
            "id, visit_id, person_id, station_id, respirator_id, method, screening_id, fill_id, hood_id, \
             rule_set_name, rule_set_version, setup, happened_at, recorded_at, recorded_by, instrument",
            &format!(
                "{run}, '{id}', '{method}', {}, {}, {hood}, {rest}, {}",
                quoted(screening),
                quoted(fill),
                if measured { "'N1'" } else { "null" }
            ),
        );
        facepiece(dice, history, id);
        // Some are still open.
        if dice.often(85) {
            history.sql += &format!(
                "insert into attempt_verdicts (attempt_id, outcome, reason, tested_on, decided_at, ended_at, \
                 recorded_at) values ('{id}', 'pass', 'passed', '2026-01-01', '{ended}', '{ended}', '{ended}');\n"
            );
        }
    }
}

/// Lots of the facepieces of an attempt's respirator: it names one of them, or none, and some come later.
fn facepiece(dice: &mut Dice, history: &mut History, attempt: Uuid) {
    if dice.often(50) {
        return;
    }
    let lots = [Uuid::now_v7(), Uuid::now_v7()];
    for lot in lots {
        let minute = if dice.often(50) { dice.minute(LATEST) } else { -200 };
        let times = history.recorded(dice, minute);
        history.row(
            "lots",
            "id, supply, respirator_id, lot_number, happened_at, recorded_at, recorded_by",
            &format!("'{lot}', 'facepiece', '{attempt}', '{lot}', {times}, '{lot}'"),
        );
    }
    history.asked.push(Asked::Lot(lots[0]));
    if dice.often(60) {
        let named = dice.one(&lots);
        history.sql += &format!("update attempts set facepiece_lot_id = '{named}' where id = '{attempt}';\n");
    }
}
