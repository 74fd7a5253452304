//! Look-backs over random histories, compared with a walk over the plain rows that knows nothing of the program's own.
//!
//! Histories have gaps, fillings on top of others, nebulizers that nobody rinsed, records that came in late, bottles
//! that nobody knows the place of, and runs without a hood. Which list a run belongs to is common practice, no source.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, QueryableByName, RunQueryDsl, connection::SimpleConnection, sql_types::Jsonb};
use sellion_rules::look_back::{Certainty, Span};
use sellion_store::look_back::{Asked, look_back};
use sellion_tests::harness::Hospital;
use serde_json::Value;
use uuid::Uuid;

const HISTORIES: u64 = 200;
const DAY_MINUTES: i64 = 24 * 60;

/// Numbers that look random and are the same on every run (splitmix64).
struct Dice(u64);

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
struct History {
    site: Uuid,
    zero: DateTime<Utc>,
    sql: String,
    asked: Vec<Asked>,
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

fn invent(dice: &mut Dice, site: Uuid, zero: DateTime<Utc>) -> History {
    let mut history = History { site, zero, sql: String::new(), asked: Vec::new() };
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
    let (hood, nebulizer) = (Uuid::now_v7(), Uuid::now_v7());
    let columns = "id, kind, label, contact_seconds, happened_at, recorded_at, recorded_by";
    let times = history.recorded(dice, -90);
    history.row("equipment", columns, &format!("'{hood}', 'hood', 'H', 0, {times}, '{hood}'"));
    let times = history.recorded(dice, -90);
    history.row("equipment", columns, &format!("'{nebulizer}', 'nebulizer', 'A', null, {times}, '{hood}'"));
    for (id, percent) in [(hood, 50), (nebulizer, 50)] {
        if dice.often(percent) {
            put(dice, history, ("equipment_id", id), stations);
        }
        let span = spanned(dice, history);
        history.asked.push(Asked::Equipment(id, span));
    }
    for _ in 0..dice.below(3) {
        let minute = dice.minute(600);
        let times = history.recorded(dice, minute);
        history.row(
            "equipment_checks",
            "id, equipment_id, finding, happened_at, recorded_at, recorded_by",
            &format!("'{}', '{nebulizer}', 'rinsed', {times}, '{hood}'", Uuid::now_v7()),
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
        let (minute, nebulizer) = (dice.minute(500), dice.one(&["A", "B", "C"]));
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

fn gaps(dice: &mut Dice, history: &mut History, stations: &[Uuid]) {
    for _ in 0..dice.below(3) {
        let (from, length) = (dice.minute(500), 1 + dice.minute(90));
        let station = dice.one(stations);
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
        // Some are still open.
        if dice.often(85) {
            history.sql += &format!(
                "insert into attempt_verdicts (attempt_id, outcome, reason, tested_on, decided_at, ended_at, \
                 recorded_at) values ('{id}', 'pass', 'passed', '2026-01-01', '{ended}', '{ended}', '{ended}');\n"
            );
        }
    }
}

/// All rows of a table at the site, plain.
struct Plain {
    tables: BTreeMap<&'static str, Vec<Value>>,
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Jsonb)]
    row: Value,
}

const TABLES: [&str; 13] = [
    "bottle_movements",
    "bottles",
    "equipment",
    "equipment_checks",
    "fill_emptyings",
    "fill_gaps",
    "fills",
    "lots",
    "placements",
    "screenings",
    "attempts",
    "stations",
    "verdicts",
];

impl Plain {
    fn read(conn: &mut PgConnection, site: Uuid) -> Self {
        let ends = "select jsonb_build_object('id', run, 'ended_at', ended_at) as row from \
            (select screening_id as run, ended_at from screening_verdicts union all \
             select attempt_id, ended_at from attempt_verdicts) v";
        let read = |table: &&'static str| {
            let sql = if *table == "verdicts" {
                ends.to_owned()
            } else {
                format!("select to_jsonb(t) as row from {table} t where site_id = '{site}'")
            };
            let rows: Vec<Row> = diesel::sql_query(sql).load(&mut *conn).unwrap();
            (*table, rows.into_iter().map(|row| row.row).collect())
        };
        Self { tables: TABLES.iter().map(read).collect() }
    }

    fn of(&self, table: &str) -> &[Value] {
        &self.tables[table]
    }

    fn by_id<'v>(&'v self, table: &str, id: &Value) -> &'v Value {
        self.of(table).iter().find(|row| row["id"] == *id).unwrap_or(&Value::Null)
    }
}

fn minute_of(value: &Value) -> i64 {
    let at: DateTime<Utc> = value.as_str().unwrap().parse().unwrap();
    at.timestamp() / 60
}

fn minutes(span: Span) -> (i64, i64) {
    let minute = |at: DateTime<Utc>| at.timestamp() / 60;
    (span.from.map_or(i64::MIN, minute), span.until.map_or(i64::MAX, minute))
}

fn order(fill: &Value) -> (i64, i64, &str) {
    (minute_of(&fill["happened_at"]), minute_of(&fill["recorded_at"]), fill["id"].as_str().unwrap())
}

/// What may be wrong with a run, walked by hand.
struct Walk<'p> {
    plain: &'p Plain,
    asked: Asked,
}

#[derive(Clone, Copy, Default)]
struct Found {
    surely: bool,
    possibly: bool,
}

impl Found {
    fn join(self, other: Self) -> Self {
        Self { surely: self.surely || other.surely, possibly: self.possibly || other.possibly }
    }

    fn only_possibly(self) -> Self {
        Self { surely: false, possibly: self.surely || self.possibly }
    }

    fn any(self) -> bool {
        self.surely || self.possibly
    }
}

impl Walk<'_> {
    /// Whether a bottle is what is asked about, or what was made from it.
    fn is_bottle(&self, bottle: &Value) -> bool {
        let row = self.plain.by_id("bottles", bottle);
        let own = match self.asked {
            Asked::Lot(id) => row["lot_id"] == id.to_string(),
            Asked::Bottle(id) => row["id"] == id.to_string(),
            _ => false,
        };
        let made =
            self.plain.of("bottle_movements").iter().filter(|row_| row_["prepared_lot_id"] == row["lot_id"]);
        let mut made = made.filter(|made| made["bottle_id"] != row["id"]);
        own || made.any(|made| self.is_bottle(&made["bottle_id"]))
    }

    fn in_nebulizer(&self, fill: &Value, depth: usize) -> Found {
        let fill = self.plain.by_id("fills", fill);
        let own = match self.asked {
            Asked::Fill(id) => fill["id"] == id.to_string(),
            Asked::Equipment(id, _) => {
                let piece = self.plain.by_id("equipment", &Value::from(id.to_string()));
                depth == 0 && piece["kind"] == "nebulizer" && piece["label"] == fill["nebulizer"]
            }
            _ => self.is_bottle(&fill["bottle_id"]),
        };
        let mut found = Found { surely: own, possibly: false };
        if !fill["topped_up_fill_id"].is_null() {
            found = found.join(self.in_nebulizer(&fill["topped_up_fill_id"], depth + 1));
        }
        if let Some(before) = self.unrinsed_before(fill) {
            found = found.join(self.in_nebulizer(&before["id"], depth + 1).only_possibly());
        }
        found
    }

    fn day(&self, fill: &Value) -> &Value {
        &self.plain.by_id("stations", &fill["station_id"])["day_id"]
    }

    fn unrinsed_before(&self, fill: &Value) -> Option<&Value> {
        let same = |other: &&Value| {
            other["nebulizer"] == fill["nebulizer"]
                && self.day(other) == self.day(fill)
                && order(other) < order(fill)
        };
        let before = self.plain.of("fills").iter().filter(same).max_by_key(|other| order(other))?;
        let (from, until) = (minute_of(&before["happened_at"]), minute_of(&fill["happened_at"]));
        let emptied = self.plain.of("fill_emptyings").iter().any(|emptying| {
            emptying["fill_id"] == before["id"]
                && emptying["rinsed"] == true
                && minute_of(&emptying["happened_at"]) <= until
        });
        let rinsed = self.plain.of("equipment_checks").iter().any(|check| {
            let label = &self.plain.by_id("equipment", &check["equipment_id"])["label"];
            let at = minute_of(&check["happened_at"]);
            *label == fill["nebulizer"] && (from..=until).contains(&at)
        });
        (fill["rinsed"] == false && !emptied && !rinsed).then_some(before)
    }

    /// The place of a thing at a minute.
    fn place(&self, thing: &Value, minute: i64) -> Option<&Value> {
        let of_it = self
            .plain
            .of("placements")
            .iter()
            .filter(|put| put["bottle_id"] == *thing || put["equipment_id"] == *thing);
        let put = of_it.filter(|put| minute_of(&put["happened_at"]) <= minute);
        put.max_by_key(|put| minute_of(&put["happened_at"])).map(|put| &put["to_place_id"])
    }

    fn stood(&self, thing: &Value, station: &Value, mut minutes: std::ops::Range<i64>) -> bool {
        minutes.any(|minute| self.place(thing, minute) == Some(station))
    }

    fn may_be_at(&self, thing: &Value, since: i64, used: bool, station: &Value, gap: (i64, i64)) -> bool {
        let unknown = self.place(thing, gap.1 - 1).is_none();
        since < gap.1 && (unknown || used || self.stood(thing, station, gap.0..gap.1))
    }

    /// Whether it may have been sprayed in a gap; `liquid` is that of a run, or any.
    fn in_gap(&self, gap: &Value, liquid: Option<(&Value, &Value)>) -> bool {
        let span = (minute_of(&gap["from_at"]), minute_of(&gap["until_at"]));
        let about = |agent: &Value, solution: &Value| {
            (gap["agent"].is_null() || gap["agent"] == *agent)
                && (gap["solution"].is_null() || gap["solution"] == *solution)
                && liquid.is_none_or(|(of, strength)| of == agent && strength == solution)
        };
        let liquid_of = |bottle: &Value| {
            let lot = self.plain.by_id("lots", &self.plain.by_id("bottles", bottle)["lot_id"]);
            (lot["agent"].clone(), lot["solution"].clone())
        };
        match self.asked {
            Asked::Lot(_) | Asked::Bottle(_) => self.plain.of("bottles").iter().any(|bottle| {
                let (agent, solution) = liquid_of(&bottle["id"]);
                let mut used = self.plain.of("fills").iter();
                let used = used
                    .any(|fill| fill["bottle_id"] == bottle["id"] && fill["station_id"] == gap["station_id"]);
                let since = minute_of(&bottle["happened_at"]);
                self.is_bottle(&bottle["id"])
                    && about(&agent, &solution)
                    && self.may_be_at(&bottle["id"], since, used, &gap["station_id"], span)
            }),
            Asked::Fill(id) => {
                let fill = self.plain.by_id("fills", &Value::from(id.to_string()));
                let made = minute_of(&fill["happened_at"]);
                let (agent, solution) = liquid_of(&fill["bottle_id"]);
                let next =
                    self.plain.of("fills").iter().filter(|other| other["nebulizer"] == fill["nebulizer"]);
                let next = next.map(|other| minute_of(&other["happened_at"])).filter(|at| *at > made);
                let gone =
                    self.plain.of("fill_emptyings").iter().filter(|gone| gone["fill_id"] == fill["id"]);
                let end =
                    next.chain(gone.map(|gone| minute_of(&gone["happened_at"]))).min().unwrap_or(i64::MAX);
                fill["station_id"] == gap["station_id"]
                    && about(&agent, &solution)
                    && made < span.1
                    && end > span.0
            }
            Asked::Equipment(id, asked) => {
                let piece = self.plain.by_id("equipment", &Value::from(id.to_string()));
                let (from, until) = minutes(asked);
                let mut used = self.plain.of("fills").iter();
                let used = used.any(|fill| {
                    fill["nebulizer"] == piece["label"] && fill["station_id"] == gap["station_id"]
                });
                let since = minute_of(&piece["happened_at"]);
                piece["kind"] == "nebulizer"
                    && from < span.1
                    && until > span.0
                    && self.may_be_at(&piece["id"], since, used, &gap["station_id"], span)
            }
            Asked::Tester(..) | Asked::Station(..) => false,
        }
    }

    /// The minutes of a run, both ends counted.
    fn lasts(&self, run: &Value) -> (i64, i64) {
        let began = minute_of(&run["happened_at"]);
        let ended = self.plain.by_id("verdicts", &run["id"]);
        let ended = if ended.is_null() { i64::MAX } else { minute_of(&ended["ended_at"]) };
        (began, ended.min(began + DAY_MINUTES))
    }

    fn in_span(&self, run: &Value, span: Span) -> bool {
        let ((began, ended), (from, until)) = (self.lasts(run), minutes(span));
        (began..=ended).any(|minute| from <= minute && minute < until)
    }

    /// A run by itself, without the screening that it may stand on.
    fn alone(&self, run: &Value) -> Found {
        let surely = |surely: bool| Found { surely, possibly: false };
        let sprayed = !run["fill_id"].is_null();
        match self.asked {
            Asked::Tester(id, span) => {
                surely(run["recorded_by"] == id.to_string() && self.in_span(run, span))
            }
            Asked::Station(id, span) => {
                surely(run["station_id"] == id.to_string() && self.in_span(run, span))
            }
            Asked::Equipment(id, span) if self.is_hood(id) => {
                let hood = Value::from(id.to_string());
                let (began, ended) = self.lasts(run);
                let was_there = self.named_at(&hood, &run["station_id"])
                    || self.stood(&hood, &run["station_id"], began..ended.max(began + 1));
                let timely = self.in_span(run, span);
                let unnamed = run["hood_id"].is_null() && sprayed && was_there;
                Found { surely: run["hood_id"] == hood && timely, possibly: unnamed && timely }
            }
            _ if !sprayed => Found::default(),
            Asked::Equipment(_, span) => {
                let timely = self.in_span(run, span);
                surely(self.in_nebulizer(&run["fill_id"], 0).surely && timely)
                    .join(Found { surely: false, possibly: timely && self.unknown(run) })
            }
            _ => self
                .in_nebulizer(&run["fill_id"], 0)
                .join(Found { surely: false, possibly: self.unknown(run) }),
        }
    }

    fn unknown(&self, run: &Value) -> bool {
        let screening = !run["agent"].is_null();
        let (agent, solution) = if screening {
            (&run["agent"], Value::from("screening"))
        } else {
            (&run["method"], Value::from("test"))
        };
        let (began, ended) = self.lasts(run);
        self.plain.of("fill_gaps").iter().filter(|gap| gap["station_id"] == run["station_id"]).any(|gap| {
            let span = minute_of(&gap["from_at"])..minute_of(&gap["until_at"]);
            (gap["agent"].is_null() || gap["agent"] == *agent)
                && (gap["solution"].is_null() || gap["solution"] == solution)
                && (began..=ended).any(|minute| span.contains(&minute))
                && self.in_gap(gap, Some((agent, &solution)))
        })
    }

    fn is_hood(&self, id: Uuid) -> bool {
        self.plain.by_id("equipment", &Value::from(id.to_string()))["kind"] == "hood"
    }

    fn runs(&self) -> impl Iterator<Item = &Value> {
        self.plain.of("screenings").iter().chain(self.plain.of("attempts"))
    }

    fn named_at(&self, hood: &Value, station: &Value) -> bool {
        self.runs().any(|run| run["hood_id"] == *hood && run["station_id"] == *station)
    }

    fn run(&self, run: &Value) -> Certainty {
        let mut found = self.alone(run);
        if !run["screening_id"].is_null() {
            found = found.join(self.alone(self.plain.by_id("screenings", &run["screening_id"])));
        }
        match found {
            Found { surely: true, .. } => Certainty::Surely,
            Found { possibly: true, .. } => Certainty::Possibly,
            _ => Certainty::NotAffected,
        }
    }

    /// Whether it was in use at the station, or may have been.
    fn in_use(&self, station: &Value) -> bool {
        let here = |row: &&Value| row["station_id"] == *station;
        let near = |row: &Value, span: Span| {
            let ((from, until), at) = (minutes(span), minute_of(&row["happened_at"]));
            at >= from.saturating_sub(DAY_MINUTES) && at < until
        };
        let gaps = self.plain.of("fill_gaps").iter().filter(here).any(|gap| self.in_gap(gap, None));
        gaps || match self.asked {
            Asked::Station(id, _) => *station == id.to_string(),
            Asked::Tester(id, span) => {
                self.runs().filter(here).any(|run| run["recorded_by"] == id.to_string() && near(run, span))
            }
            Asked::Equipment(id, span) if self.is_hood(id) => {
                let (from, until) = minutes(span);
                let hood = Value::from(id.to_string());
                // A run after the span that names the hood shows as well that it was there on that day.
                let span = Span { until: span.until.map(|until| until + TimeDelta::days(1)), ..span };
                let first = minute_of(&self.plain.of("lots")[0]["happened_at"]) - DAY_MINUTES;
                let stood = self.stood(&hood, station, from.max(first)..until.min(first + 5 * DAY_MINUTES));
                stood || self.runs().filter(here).any(|run| run["hood_id"] == hood && near(run, span))
            }
            Asked::Equipment(_, span) => {
                let mut fills = self.plain.of("fills").iter().filter(here);
                fills.any(|fill| self.in_nebulizer(&fill["id"], 0).surely && near(fill, span))
            }
            _ => {
                self.plain.of("fills").iter().filter(here).any(|fill| self.in_nebulizer(&fill["id"], 0).any())
            }
        }
    }

    /// Every run that belongs into a list, with the list.
    fn lists(&self) -> BTreeMap<String, (String, Certainty)> {
        let listed = self.runs().filter_map(|run| {
            let certainty = self.run(run);
            let here = certainty > Certainty::NotAffected || self.in_use(&run["station_id"]);
            let text = |name: &str| run[name].as_str().unwrap().to_owned();
            here.then(|| (text("id"), (text("person_id"), certainty)))
        });
        listed.collect()
    }
}

#[test]
fn look_backs_find_the_same_as_a_walk_over_the_plain_rows() {
    let hospital = Hospital::open();
    let mut conn = hospital.db();
    let mut seen: BTreeMap<Certainty, usize> = BTreeMap::new();
    let first: u64 =
        std::env::var("SELLION_FIRST_HISTORY").ok().and_then(|text| text.parse().ok()).unwrap_or(1);
    for number in first..first + HISTORIES {
        let zero = DateTime::from_timestamp(1_780_000_020 - 1_780_000_020 % 60, 0).unwrap();
        let history = invent(&mut Dice(number), Uuid::now_v7(), zero);
        // Only the rows that a look-back walks along are there, so nothing else may be asked for.
        let sql = format!("set session_replication_role = replica;\n{}", history.sql);
        conn.batch_execute(&sql).unwrap();
        conn.batch_execute("set session_replication_role = origin").unwrap();
        let plain = Plain::read(&mut conn, history.site);
        for asked in &history.asked {
            let walked = Walk { plain: &plain, asked: *asked }.lists();
            let found = look_back(&mut conn, history.site, *asked).unwrap();
            let mut lists: BTreeMap<String, (String, Certainty)> = BTreeMap::new();
            for person in &found.people {
                let worst = person.runs.iter().map(|run| run.verdict.certainty).max();
                assert_eq!(worst, Some(person.certainty));
                for run in &person.runs {
                    *seen.entry(run.verdict.certainty).or_default() += 1;
                    let run_of = (person.person_id.to_string(), run.verdict.certainty);
                    lists.insert(run.id.to_string(), run_of);
                }
            }
            assert_eq!(lists, walked, "history {number}, {asked:?}");
        }
    }
    for certainty in Certainty::ALL {
        let runs = seen.get(certainty).copied().unwrap_or_default();
        assert!(runs > 1000, "the histories hardly show {certainty}: {runs} runs");
    }
}
