//! Counted bottles against their books: two that differ by the same amount were taken for each other.

use sellion_rules::supplies::{Agent, Solution};
use uuid::Uuid;

use super::finding::{Finding, FindingKind};

/// A count differs from its book beyond this many standard uncertainties. Common practice, no source.
const DIFFERS: f64 = 3.0;
/// Two differences cancel within this many standard uncertainties of both. Common practice, no source.
const CANCELS: f64 = 2.0;

/// What a bottle holds by its book, and by a count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BottleCount {
    /// The bottle.
    pub bottle: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// Its lot.
    pub lot: Uuid,
    /// Its agent.
    pub agent: Agent,
    /// Its solution.
    pub solution: Solution,
    /// What should be in it, in microlitres; negative where more was taken out than put in.
    pub book_ul: i64,
    /// What was counted, in microlitres.
    pub counted_ul: u32,
    /// Standard uncertainty of the count and the book together, in microlitres.
    pub uncertainty_ul: u32,
}

impl BottleCount {
    /// How much more was counted than the book says, in microlitres.
    fn difference(&self) -> f64 {
        let book = i128::from(self.book_ul);
        (i128::from(self.counted_ul) - book) as f64
    }

    fn uncertainty(&self) -> f64 {
        f64::from(self.uncertainty_ul.max(1))
    }

    fn differs(&self) -> bool {
        self.difference().abs() > DIFFERS * self.uncertainty()
    }

    fn holds(&self) -> String {
        format!("{} of {}", self.solution.name(), self.agent.name())
    }
}

/// Pairs that were taken for each other, the best match first, and what remains unexplained, in the order given.
pub(super) fn at_bottles(counts: &[BottleCount]) -> Vec<Finding> {
    let (over, short): (Vec<_>, Vec<_>) =
        counts.iter().filter(|count| count.differs()).partition(|count| count.difference() > 0.0);
    let mut pairs: Vec<(f64, &BottleCount, &BottleCount)> = Vec::new();
    for short in &short {
        for over in &over {
            let left = (short.difference() + over.difference()).abs();
            if left <= CANCELS * short.uncertainty().hypot(over.uncertainty()) {
                pairs.push((left, short, over));
            }
        }
    }
    pairs.sort_by(|a, b| {
        a.0.total_cmp(&b.0).then_with(|| (a.1.bottle, a.2.bottle).cmp(&(b.1.bottle, b.2.bottle)))
    });
    let mut explained: Vec<Uuid> = Vec::new();
    let mut findings = Vec::new();
    for (_, short, over) in pairs {
        if !explained.contains(&short.bottle) && !explained.contains(&over.bottle) {
            explained.extend([short.bottle, over.bottle]);
            findings.push(swapped(short, over));
        }
    }
    let unexplained = counts.iter().filter(|count| count.differs() && !explained.contains(&count.bottle));
    findings.extend(unexplained.map(alone));
    findings
}

fn swapped(short: &BottleCount, over: &BottleCount) -> Finding {
    let size_ul = f64::midpoint(-short.difference(), over.difference());
    let same = (short.agent, short.solution) == (over.agent, over.solution);
    let meant = if same && short.lot == over.lot {
        "Both hold the same lot, so only the bottles' books change.".to_owned()
    } else if same {
        format!(
            "Both hold {}, of two lots: the attempts of those fills stand on the other lot.",
            over.holds()
        )
    } else {
        format!(
            "They hold different things: {} was taken for {}. The attempts of those fills need a review.",
            short.holds(),
            over.holds()
        )
    };
    let words = format!(
        "Bottle {} is short by {:.0} microlitres and bottle {} has {:.0} too much: fills written down from {} seem to \
         have come from {}.",
        short.label,
        -short.difference(),
        over.label,
        over.difference(),
        over.label,
        short.label
    );
    let check =
        format!("Find the fills written down from bottle {} of about this volume. {meant}", over.label);
    Finding {
        other_bottle: Some(over.bottle),
        ..about(FindingKind::WrongBottle, short, size_ul, words, check)
    }
}

fn alone(count: &BottleCount) -> Finding {
    let difference = count.difference();
    let direction = if difference < 0.0 { "is short by" } else { "has too much by" };
    let words = format!("Bottle {} {direction} {:.0} microlitres.", count.label, difference.abs());
    let check = "Count again. Then look for a fill, a spill or a discard that was not written down, or was written \
                 down twice.";
    about(FindingKind::BottleDiffers, count, difference.abs(), words, check.to_owned())
}

fn about(kind: FindingKind, count: &BottleCount, size_ul: f64, words: String, check: String) -> Finding {
    Finding {
        kind,
        nebulizer: None,
        bottle: Some(count.bottle),
        other_bottle: None,
        from_fill: None,
        from_at: None,
        to_fill: None,
        fills: 0,
        size_ul,
        per_fill_ul: 0.0,
        assumed_volume: false,
        words,
        check,
    }
}
