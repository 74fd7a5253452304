//! What was in a nebulizer: its own bottle, what it was topped up on, and what an earlier filling may have left in it.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// One filling, as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FillRecord {
    /// The filling.
    pub id: Uuid,
    /// The day of its station: a label names the same nebulizer all day.
    pub day: Uuid,
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

/// How something came to be in a nebulizer. The earlier one is the surer one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum How {
    /// It was filled with it.
    Own,
    /// It was filled up on top of it.
    ToppedUp,
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

/// The fillings of some days, and which of them follow each other without a rinse.
#[derive(Debug, Default)]
pub struct Fillings {
    records: HashMap<Uuid, FillRecord>,
    /// The filling before, where nothing says that the nebulizer was rinsed in between.
    unrinsed: HashMap<Uuid, Uuid>,
}

impl Fillings {
    /// All fillings of the days that matter, in any order, and the rinses of their nebulizers.
    pub fn new(records: Vec<FillRecord>, rinses: &[Rinse]) -> Self {
        let mut of_nebulizers: BTreeMap<(Uuid, &str), Vec<&FillRecord>> = BTreeMap::new();
        for record in &records {
            of_nebulizers.entry((record.day, &record.nebulizer)).or_default().push(record);
        }
        let mut at: HashMap<&str, Vec<DateTime<Utc>>> = HashMap::new();
        for rinse in rinses {
            at.entry(&rinse.nebulizer).or_default().push(rinse.at);
        }
        let mut unrinsed = HashMap::new();
        for ((_, nebulizer), mut fills) in of_nebulizers {
            fills.sort_by_key(|fill| (fill.happened_at, fill.recorded_at, fill.id));
            for (before, fill) in fills.iter().zip(fills.iter().skip(1)) {
                let span = before.happened_at..=fill.happened_at;
                let rinsed = fill.rinsed
                    || before.rinsed_out_at.is_some_and(|at| at <= fill.happened_at)
                    || at.get(nebulizer).is_some_and(|at| at.iter().any(|at| span.contains(at)));
                if !rinsed {
                    unrinsed.insert(fill.id, before.id);
                }
            }
        }
        Self { records: records.into_iter().map(|record| (record.id, record)).collect(), unrinsed }
    }

    /// Everything that was in the nebulizer after this filling, each filling once and as surely as it can be said.
    pub fn contents(&self, fill: Uuid) -> Vec<Content<'_>> {
        let mut found: BTreeMap<Uuid, How> = BTreeMap::new();
        let mut open = vec![(fill, How::Own)];
        while let Some((id, how)) = open.pop() {
            if found.get(&id).is_some_and(|known| *known <= how) {
                continue;
            }
            found.insert(id, how);
            let topped_up = self.records.get(&id).and_then(|record| record.topped_up);
            open.extend(topped_up.map(|below| (below, how.max(How::ToppedUp))));
            open.extend(self.unrinsed.get(&id).map(|before| (*before, How::Residue)));
        }
        let content = |(id, how)| self.records.get(&id).map(|fill| Content { fill, how });
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

    /// Fillings that others were made on top of and that are not among these: of another day, if there are any.
    pub fn missing(&self) -> HashSet<Uuid> {
        let below = self.records.values().filter_map(|record| record.topped_up);
        below.filter(|id| !self.records.contains_key(id)).collect()
    }
}
