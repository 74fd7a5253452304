//! Respirators in the order in which they are worth trying.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;
use uuid::Uuid;

use crate::statistics::{Interval, wilson};

/// One test of the person's own that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OwnResult {
    /// The respirator.
    pub respirator: Uuid,
    /// Whether it was passed.
    pub passed: bool,
    /// The day of the test at its site.
    pub on: NaiveDate,
}

/// What one respirator did at the site.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SiteCounts {
    /// The respirator.
    pub respirator: Uuid,
    /// Tests passed.
    pub passes: u32,
    /// Tests failed.
    pub fails: u32,
}

/// One respirator to try, or to try last.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Hint {
    /// The respirator.
    pub respirator: Uuid,
    /// Tests passed in it at the site.
    pub passes: u64,
    /// Tests failed in it at the site.
    pub fails: u64,
    /// The share that passed, from 0 to 1; none without tests.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share: Option<f64>,
    /// The 95 % interval of that share by Wilson's score; wide where there were few tests.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interval: Option<Interval>,
    /// What the person's own tests say, in words; none without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_history: Option<String>,
}

/// The person's tests in one respirator.
#[derive(Default)]
struct Own {
    passes: u32,
    fails: u32,
    newest: Option<(NaiveDate, bool)>,
}

/// Every respirator of either list once: first those whose newest own test was passed, last those whose newest own test
/// was failed, and in each group by the lower end of the interval, so that a share out of few tests does not lead.
///
/// Of two own tests on one day the fail counts as the newest. Lines of the same respirator are added up.
pub fn rank(own: &[OwnResult], site: &[SiteCounts]) -> Vec<Hint> {
    let mut respirators = BTreeMap::<Uuid, (Own, u64, u64)>::new();
    for one in own {
        respirators.entry(one.respirator).or_default().0.add(*one);
    }
    for counts in site {
        let (_, passes, fails) = respirators.entry(counts.respirator).or_default();
        *passes = passes.saturating_add(counts.passes.into());
        *fails = fails.saturating_add(counts.fails.into());
    }
    let mut ranked: Vec<_> = respirators
        .into_iter()
        .map(|(respirator, (own, passes, fails))| (own.group(), hint(respirator, &own, passes, fails)))
        .collect();
    // The order of the ids stays where nothing else tells two apart.
    ranked.sort_by(|(group, one), (other_group, other)| {
        group.cmp(other_group).then_with(|| by_promise(one, other))
    });
    ranked.into_iter().map(|(_, hint)| hint).collect()
}

impl Own {
    fn add(&mut self, result: OwnResult) {
        let count = if result.passed { &mut self.passes } else { &mut self.fails };
        *count = count.saturating_add(1);
        let later = |(on, passed): (NaiveDate, bool)| (result.on, !result.passed) > (on, !passed);
        if self.newest.is_none_or(later) {
            self.newest = Some((result.on, result.passed));
        }
    }

    /// First, middle or last.
    fn group(&self) -> u8 {
        match self.newest {
            Some((_, true)) => 0,
            None => 1,
            Some((_, false)) => 2,
        }
    }

    fn words(&self) -> Option<String> {
        let (on, passed) = self.newest?;
        let newest = if passed { "Passed" } else { "Failed" };
        let counts = match (self.passes, self.fails) {
            (1, 0) | (0, 1) => String::new(),
            (passes, fails) => format!("; {passes} of {} tests in it passed", passes.saturating_add(fails)),
        };
        Some(format!("{newest} in this one on {on}{counts}."))
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of tests are far below 2^52")]
fn hint(respirator: Uuid, own: &Own, passes: u64, fails: u64) -> Hint {
    let tests = passes.saturating_add(fails);
    let share = (tests > 0).then(|| passes as f64 / tests as f64);
    Hint { respirator, passes, fails, share, interval: wilson(passes, tests), own_history: own.words() }
}

/// The more certain to be passed, the earlier; what was never tried comes after what was.
fn by_promise(one: &Hint, other: &Hint) -> Ordering {
    let low = |hint: &Hint| hint.interval.map_or(-1.0, |interval| interval.low);
    let share = |hint: &Hint| hint.share.unwrap_or(-1.0);
    low(other).total_cmp(&low(one)).then_with(|| share(other).total_cmp(&share(one)))
}
