//! The walk by hand: over rows as JSON, minute by minute, with nothing of the program's own rules.

use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet, HashMap},
};

use chrono::{DateTime, TimeDelta, Utc};
use diesel::{PgConnection, QueryableByName, RunQueryDsl, sql_types::Jsonb};
use sellion_rules::look_back::{Certainty, Span};
use sellion_store::look_back::Asked;
use serde_json::Value;
use uuid::Uuid;

const DAY_MINUTES: i64 = 24 * 60;

/// All rows of a table at the site, plain.
pub(super) struct Plain {
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
    pub(super) fn read(conn: &mut PgConnection, site: Uuid) -> Self {
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

    /// Everybody with an attempt.
    pub(super) fn people(&self) -> BTreeSet<Uuid> {
        let ids = self.of("attempts").iter().map(|run| run["person_id"].as_str().unwrap());
        ids.map(|id| id.parse().unwrap()).collect()
    }

    pub(super) fn of(&self, table: &str) -> &[Value] {
        &self.tables[table]
    }

    pub(super) fn by_id<'v>(&'v self, table: &str, id: &Value) -> &'v Value {
        self.of(table).iter().find(|row| row["id"] == *id).unwrap_or(&Value::Null)
    }
}

thread_local! {
    /// Every moment is read once: the walk asks for the same ones minute after minute.
    static MINUTES: RefCell<HashMap<String, i64>> = RefCell::default();
}

pub(super) fn minute_of(value: &Value) -> i64 {
    let text = value.as_str().unwrap();
    MINUTES.with_borrow_mut(|known| {
        if let Some(minute) = known.get(text) {
            return *minute;
        }
        let at: DateTime<Utc> = text.parse().unwrap();
        let minute = at.timestamp() / 60;
        known.insert(text.to_owned(), minute);
        minute
    })
}

fn minutes(span: Span) -> (i64, i64) {
    let minute = |at: DateTime<Utc>| at.timestamp() / 60;
    (span.from.map_or(i64::MIN, minute), span.until.map_or(i64::MAX, minute))
}

pub(super) fn order(fill: &Value) -> (i64, i64, &str) {
    (minute_of(&fill["happened_at"]), minute_of(&fill["recorded_at"]), fill["id"].as_str().unwrap())
}

/// What may be wrong with a run, walked by hand.
pub(super) struct Walk<'p> {
    pub(super) plain: &'p Plain,
    pub(super) asked: Asked,
}

#[derive(Clone, Copy, Default)]
pub(super) struct Found {
    pub(super) surely: bool,
    pub(super) possibly: bool,
}

impl Found {
    pub(super) fn join(self, other: Self) -> Self {
        Self { surely: self.surely || other.surely, possibly: self.possibly || other.possibly }
    }

    pub(super) fn only_possibly(self) -> Self {
        Self { surely: false, possibly: self.surely || self.possibly }
    }

    fn any(self) -> bool {
        self.surely || self.possibly
    }
}

impl Walk<'_> {
    /// Whether a bottle is what is asked about, or what was made from it.
    pub(super) fn is_bottle(&self, bottle: &Value) -> bool {
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

    fn stood(&self, thing: &Value, station: &Value, minutes: std::ops::Range<i64>) -> bool {
        let of_it = self.plain.of("placements").iter();
        let of_it = of_it.filter(|put| put["bottle_id"] == *thing || put["equipment_id"] == *thing);
        // Between two of these minutes it stays where it is.
        let moved = of_it.map(|put| minute_of(&put["happened_at"])).filter(|minute| minutes.contains(minute));
        let mut looked = moved.chain([minutes.start]).filter(|_| !minutes.is_empty());
        looked.any(|minute| self.place(thing, minute) == Some(station))
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
            Asked::Lot(id) if self.is_facepieces(id) => false,
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
            Asked::Lot(id) if self.is_facepieces(id) => self.worn(run, id),
            _ if !sprayed => Found::default(),
            Asked::Equipment(_, span) => {
                let timely = self.in_span(run, span);
                surely(self.contents(&run["fill_id"], self.lasts(run).1).surely && timely)
                    .join(Found { surely: false, possibly: timely && self.unknown(run) })
            }
            _ => self
                .contents(&run["fill_id"], self.lasts(run).1)
                .join(Found { surely: false, possibly: self.unknown(run) }),
        }
    }

    fn is_facepieces(&self, lot: Uuid) -> bool {
        self.plain.by_id("lots", &Value::from(lot.to_string()))["supply"] == "facepiece"
    }

    /// Whether a facepiece of the lot was worn: surely where it is named, possibly where none is and it had come.
    fn worn(&self, run: &Value, lot: Uuid) -> Found {
        let lot = self.plain.by_id("lots", &Value::from(lot.to_string()));
        let same = !run["respirator_id"].is_null() && run["respirator_id"] == lot["respirator_id"];
        let unnamed = run["facepiece_lot_id"].is_null();
        Found {
            surely: same && run["facepiece_lot_id"] == lot["id"],
            possibly: same && unnamed && self.lasts(run).1 >= minute_of(&lot["happened_at"]),
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
                fills.any(|fill| self.contents(&fill["id"], i64::MAX).surely && near(fill, span))
            }
            Asked::Lot(id) if self.is_facepieces(id) => {
                let lot = self.plain.by_id("lots", &Value::from(id.to_string()));
                let since = Span { from: self.at(&lot["happened_at"]), until: None };
                let mut attempts = self.plain.of("attempts").iter().filter(here);
                attempts.any(|run| {
                    let came = run["facepiece_lot_id"] == lot["id"] || near(run, since);
                    run["respirator_id"] == lot["respirator_id"] && came
                })
            }
            _ => self
                .plain
                .of("fills")
                .iter()
                .filter(here)
                .any(|fill| self.contents(&fill["id"], i64::MAX).any()),
        }
    }

    fn at(&self, value: &Value) -> Option<DateTime<Utc>> {
        value.as_str().and_then(|text| text.parse().ok())
    }

    /// Every run that belongs into a list, with the list.
    pub(super) fn lists(&self) -> BTreeMap<String, (String, Certainty)> {
        let listed = self.runs().filter_map(|run| {
            let certainty = self.run(run);
            let here = certainty > Certainty::NotAffected || self.in_use(&run["station_id"]);
            let text = |name: &str| run[name].as_str().unwrap().to_owned();
            here.then(|| (text("id"), (text("person_id"), certainty)))
        });
        listed.collect()
    }

    /// The passes that a stop of it puts in doubt.
    pub(super) fn passes_in_doubt(&self, possibly: bool) -> BTreeSet<String> {
        let least = if possibly { Certainty::Possibly } else { Certainty::Surely };
        let ended = |run: &&Value| !self.plain.by_id("verdicts", &run["id"]).is_null();
        let passes = self.plain.of("attempts").iter().filter(ended);
        let doubtful = passes.filter(|run| self.run(run) >= least);
        doubtful.map(|run| run["id"].as_str().unwrap().to_owned()).collect()
    }
}
