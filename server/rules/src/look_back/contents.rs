//! What was in a nebulizer: its own bottle, what it was topped up on, what was poured in by mistake, and what an earlier
//! filling may have left in it.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// One filling, as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FillRecord {
    /// The filling.
    pub id: Uuid,
    /// Where it was made.
    pub station: Uuid,
    /// What is written on the nebulizer.
    pub nebulizer: String,
    /// Its bottle first, then those that the bottle's lot was made from.
    pub sources: Vec<Source>,
    /// Whether the nebulizer was rinsed before.
    pub rinsed: bool,
    /// The filling on whose rest it was made.
    pub topped_up: Option<Uuid>,
    /// When it was made.
    pub happened_at: DateTime<Utc>,
    /// When that was stored.
    pub recorded_at: DateTime<Utc>,
    /// When it was emptied and the nebulizer rinsed, if that is recorded.
    pub rinsed_out_at: Option<DateTime<Utc>>,
}

/// A bottle and its lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Source {
    /// The lot.
    pub lot: Uuid,
    /// The bottle.
    pub bottle: Uuid,
}

/// A rinse that is recorded of the nebulizer itself and not of a filling.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rinse {
    /// What is written on the nebulizer.
    pub nebulizer: String,
    /// When it was rinsed.
    pub at: DateTime<Utc>,
}

/// A mix-up: liquid of one nebulizer was poured into another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MixUp {
    /// What is written on the nebulizer that it was poured into.
    pub into: String,
    /// What is written on the one that it came from.
    pub from: String,
    /// When.
    pub at: DateTime<Utc>,
}

/// How something came to be in a nebulizer. The earlier one is the surer one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum How {
    /// It was filled with it.
    Own,
    /// It was filled up on top of it.
    ToppedUp,
    /// It was poured in by mistake.
    Poured,
    /// The nebulizer's own liquid was poured into one that held it.
    MayBePoured,
    /// It was in the nebulizer before, and no rinse is recorded in between.
    Residue,
}

/// Something that was, or may have been, in a nebulizer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Content<'f> {
    /// The filling that brought it in.
    pub fill: &'f FillRecord,
    /// How.
    pub how: How,
}

/// What came into a nebulizer with something else: the filling that it was, until when that is followed, and how.
type Brought = (Uuid, DateTime<Utc>, How);

/// Some fillings, and what came into the nebulizer with each.
#[derive(Debug, Default)]
pub struct Fillings {
    records: HashMap<Uuid, FillRecord>,
    /// What was in the nebulizer before this filling, where nothing says that it was rinsed in between.
    before: HashMap<Uuid, Vec<Brought>>,
    /// What was poured in, or may have been, after this filling.
    poured: HashMap<Uuid, Vec<Brought>>,
}

impl Fillings {
    /// All fillings that matter in any order, and the rinses and mix-ups of their nebulizers.
    pub fn new(records: Vec<FillRecord>, rinses: &[Rinse], mix_ups: &[MixUp]) -> Self {
        let timeline = Timeline::new(&records, rinses);
        let (mut before, mut poured): (HashMap<_, Vec<Brought>>, HashMap<_, Vec<Brought>>) =
            Default::default();
        for fills in timeline.fills.values() {
            for (fill, next) in fills.iter().zip(fills.iter().skip(1)) {
                if !next.rinsed && !timeline.rinsed(fill, fill.happened_at, next.happened_at) {
                    before.entry(next.id).or_default().push((fill.id, next.happened_at, How::Residue));
                }
            }
        }
        for (into, from, at, how) in mix_ups.iter().flat_map(both_ways) {
            let Some(source) = timeline.held(from, at) else { continue };
            let held = timeline.newest(into, at);
            poured
                .entry(held.map(|fill| fill.id).unwrap_or_default())
                .or_default()
                .push((source.id, at, how));
            // Where a rinse lies before it, the filling after it has it from the mix-up alone.
            let next = timeline.next(into, at).filter(|next| !next.rinsed);
            let rinsed = |next: &&FillRecord| match held {
                Some(held) => timeline.rinsed(held, at, next.happened_at),
                None => timeline.rinsed_between(into, at, next.happened_at),
            };
            if let Some(next) = next.filter(|next| !rinsed(next)) {
                before.entry(next.id).or_default().push((source.id, at, How::Residue));
            }
        }
        Self { records: records.into_iter().map(|record| (record.id, record)).collect(), before, poured }
    }

    /// Everything that was in the nebulizer after this filling and up to `until`, each filling once and as surely as it
    /// can be said.
    pub fn contents(&self, fill: Uuid, until: DateTime<Utc>) -> Vec<Content<'_>> {
        let mut found: BTreeMap<Uuid, Vec<(How, DateTime<Utc>)>> = BTreeMap::new();
        let mut open: Vec<Brought> = vec![(fill, until, How::Own)];
        while let Some((id, until, how)) = open.pop() {
            let known = found.entry(id).or_default();
            if known.iter().any(|(surer, later)| *surer <= how && *later >= until) {
                continue;
            }
            known.push((how, until));
            let Some(record) = self.records.get(&id) else { continue };
            let below = record.topped_up.map(|below| (below, record.happened_at, How::ToppedUp));
            let before = self.before.get(&id).into_iter().flatten().copied();
            let poured = self.poured.get(&id).into_iter().flatten().copied();
            let further = below.into_iter().chain(before).chain(poured.filter(|(_, at, _)| *at <= until));
            open.extend(further.map(|(id, until, came)| (id, until, came.max(how))));
        }
        let content = |(id, known): (Uuid, Vec<(How, DateTime<Utc>)>)| {
            let how = known.into_iter().map(|(how, _)| how).min()?;
            self.records.get(&id).map(|fill| Content { fill, how })
        };
        found.into_iter().filter_map(content).collect()
    }

    /// The filling of that id.
    pub fn get(&self, fill: Uuid) -> Option<&FillRecord> {
        self.records.get(&fill)
    }

    /// Every filling.
    pub fn all(&self) -> impl Iterator<Item = &FillRecord> {
        self.records.values()
    }
}

/// A mix-up as it looks from either nebulizer: into which, from which, when, how.
fn both_ways(mix_up: &MixUp) -> [(&str, &str, DateTime<Utc>, How); 2] {
    let MixUp { into, from, at } = mix_up;
    [(into, from, *at, How::Poured), (from, into, *at, How::MayBePoured)]
}

/// The fillings and rinses of each nebulizer in the order of time.
struct Timeline<'r> {
    fills: BTreeMap<&'r str, Vec<&'r FillRecord>>,
    rinses: HashMap<&'r str, Vec<DateTime<Utc>>>,
}

impl<'r> Timeline<'r> {
    fn new(records: &'r [FillRecord], rinses: &'r [Rinse]) -> Self {
        let mut fills: BTreeMap<&str, Vec<&FillRecord>> = BTreeMap::new();
        for record in records {
            fills.entry(&record.nebulizer).or_default().push(record);
        }
        for fills in fills.values_mut() {
            fills.sort_by_key(|fill| (fill.happened_at, fill.recorded_at, fill.id));
        }
        let mut of_nebulizers: HashMap<&str, Vec<DateTime<Utc>>> = HashMap::new();
        for rinse in rinses {
            of_nebulizers.entry(&rinse.nebulizer).or_default().push(rinse.at);
        }
        Self { fills, rinses: of_nebulizers }
    }

    /// The newest filling of a nebulizer at that moment.
    fn newest(&self, nebulizer: &str, at: DateTime<Utc>) -> Option<&'r FillRecord> {
        self.fills.get(nebulizer)?.iter().rfind(|fill| fill.happened_at <= at).copied()
    }

    /// The filling after that moment.
    fn next(&self, nebulizer: &str, at: DateTime<Utc>) -> Option<&'r FillRecord> {
        self.fills.get(nebulizer)?.iter().find(|fill| fill.happened_at > at).copied()
    }

    /// The filling that a nebulizer held at that moment: its newest one, if it was not rinsed out.
    fn held(&self, nebulizer: &str, at: DateTime<Utc>) -> Option<&'r FillRecord> {
        self.newest(nebulizer, at).filter(|fill| !self.rinsed(fill, fill.happened_at, at))
    }

    /// Whether the nebulizer was rinsed between two moments, by a check or with the emptying of this filling of it.
    fn rinsed(&self, fill: &FillRecord, from: DateTime<Utc>, until: DateTime<Utc>) -> bool {
        fill.rinsed_out_at.is_some_and(|at| (from..=until).contains(&at))
            || self.rinsed_between(&fill.nebulizer, from, until)
    }

    fn rinsed_between(&self, nebulizer: &str, from: DateTime<Utc>, until: DateTime<Utc>) -> bool {
        self.rinses.get(nebulizer).is_some_and(|at| at.iter().any(|at| (from..=until).contains(at)))
    }
}
