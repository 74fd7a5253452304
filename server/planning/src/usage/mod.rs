//! The use of solution against the squeezes that were given: what a nebulizer should have sprayed, what really left it,
//! and what the difference says.

mod bottles;
mod finding;

use chrono::{DateTime, Utc};
use sellion_rules::{Code, Refusal};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

pub use bottles::BottleCount;
pub use finding::{Finding, FindingKind};

use crate::cusum::{self, Point, Reading, Setup};
use crate::run_length::{AlarmRate, alarm_rate};
use crate::weighing::SqueezeVolume;

/// How well volumes are known, and how sensitive the sums are. Every number may be replaced by the site's own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct UsageSetup {
    /// The running sums.
    pub cusum: Setup,
    /// Standard uncertainty of a filled volume, in microlitres. A syringe read to its mark; from memory.
    #[cfg_attr(feature = "openapi", schema(example = 20.0))]
    pub filled_uncertainty_ul: f64,
    /// Standard uncertainty of a measured rest, in microlitres. A syringe read to its mark; from memory.
    #[cfg_attr(feature = "openapi", schema(example = 20.0))]
    pub rest_uncertainty_ul: f64,
    /// How much the volume of all squeezes of one fill differs from hand to hand and day to day: a standard deviation
    /// as a share of the volume. From memory.
    #[cfg_attr(feature = "openapi", schema(example = 0.1))]
    pub hand_spread: f64,
}

impl Default for UsageSetup {
    fn default() -> Self {
        Self {
            cusum: Setup::default(),
            filled_uncertainty_ul: 20.0,
            rest_uncertainty_ul: 20.0,
            hand_spread: 0.1,
        }
    }
}

impl UsageSetup {
    /// Whether every number can be meant.
    ///
    /// # Errors
    /// `invalid_value` with the field: an uncertainty is from 1 to 1000 microlitres, a spread from 0 to 1.
    pub fn check(&self) -> Result<(), Refusal> {
        let volumes = [
            ("filled_uncertainty_ul", self.filled_uncertainty_ul),
            ("rest_uncertainty_ul", self.rest_uncertainty_ul),
        ];
        for (field, value) in volumes {
            if !(1.0..=1000.0).contains(&value) {
                let detail = "An uncertainty of 1 to 1000 microlitres is possible.";
                return Err(Refusal::new(Code::InvalidValue, detail).field(field));
            }
        }
        if !(0.0..=1.0).contains(&self.hand_spread) {
            let detail = "The spread is a share from 0 to 1.";
            return Err(Refusal::new(Code::InvalidValue, detail).field("hand_spread"));
        }
        Ok(())
    }
}

/// One fill of a nebulizer, when it was emptied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FillUse {
    /// The fill.
    pub fill: Uuid,
    /// When it was made.
    pub filled_at: DateTime<Utc>,
    /// Squeezes given from it, as the events of screenings and attempts say.
    pub squeezes: u32,
    /// What was filled, in microlitres.
    pub filled_ul: u32,
    /// What was left when it was emptied, in microlitres; none where nobody measured.
    pub rest_ul: Option<u32>,
    /// What is known to have been spilled from it, in microlitres.
    pub spilled_ul: u32,
}

/// A nebulizer, what its squeeze gives, and its fills.
#[derive(Debug, Clone, PartialEq)]
pub struct NebulizerUse {
    /// The nebulizer.
    pub nebulizer: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// What one squeeze gives.
    pub squeeze: SqueezeVolume,
    /// Its fills, in any order.
    pub fills: Vec<FillUse>,
}

/// One measured fill in the sums.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct FillPoint {
    /// The fill.
    pub fill: Uuid,
    /// When it was made.
    pub filled_at: DateTime<Utc>,
    /// Squeezes given from it.
    pub squeezes: u32,
    /// What they should have sprayed, in microlitres.
    pub expected_ul: f64,
    /// What left the nebulizer beyond known spills, in microlitres.
    pub gone_ul: f64,
    /// How much more is gone than expected, in microlitres; negative where less is.
    pub difference_ul: f64,
    /// The same in standard deviations of one fill.
    pub standardised: f64,
    /// The running sums after it.
    pub sums: Point,
    /// The difference, in standard deviations, that the uncertainty of the volume of a squeeze explains upwards.
    pub allowance_high: f64,
    /// The same downwards.
    pub allowance_low: f64,
}

/// What was seen at one nebulizer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NebulizerReport {
    /// The nebulizer.
    pub nebulizer: Uuid,
    /// What it is called on its label.
    pub label: String,
    /// What one squeeze gives, and whether that is only assumed.
    pub squeeze: SqueezeVolume,
    /// The measured fills, by time.
    pub fills: Vec<FillPoint>,
    /// Fills whose rest nobody measured, by time: they take no part.
    pub unmeasured: Vec<Uuid>,
    /// What the measured fills should have sprayed together, in microlitres.
    pub expected_ul: f64,
    /// What left the nebulizer in them, in microlitres.
    pub gone_ul: f64,
}

/// What all nebulizers and bottles say.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct UsageReport {
    /// How often the sums alarm: one value is one measured fill of one nebulizer.
    pub alarm: AlarmRate,
    /// False alarms to be expected among the fills of this report when nothing is wrong, at most.
    pub false_alarms_expected: f64,
    /// In the order given.
    pub nebulizers: Vec<NebulizerReport>,
    /// What to look into: nebulizers in the order given, then bottles.
    pub findings: Vec<Finding>,
}

/// Compares the use of every nebulizer with its squeezes, and bottles with each other.
///
/// # Errors
/// `invalid_value` where a number of `setup` cannot be meant.
pub fn usage(
    setup: &UsageSetup,
    nebulizers: &[NebulizerUse],
    counts: &[BottleCount],
) -> Result<UsageReport, Refusal> {
    setup.check()?;
    let alarm = alarm_rate(setup.cusum);
    let mut report =
        UsageReport { alarm, false_alarms_expected: 0.0, nebulizers: Vec::new(), findings: Vec::new() };
    for nebulizer in nebulizers {
        let (seen, signals) = one_nebulizer(setup, nebulizer);
        report.findings.extend(finding::at_nebulizer(setup.cusum, &seen, &signals));
        let fills = u32::try_from(seen.fills.len()).unwrap_or(u32::MAX);
        report.false_alarms_expected += alarm.false_alarms_expected(fills);
        report.nebulizers.push(seen);
    }
    report.findings.extend(bottles::at_bottles(counts));
    Ok(report)
}

fn one_nebulizer(setup: &UsageSetup, nebulizer: &NebulizerUse) -> (NebulizerReport, Vec<cusum::Signal>) {
    let mut fills = nebulizer.fills.clone();
    fills.sort_by_key(|fill| (fill.filled_at, fill.fill));
    let unmeasured = fills.iter().filter(|fill| fill.rest_ul.is_none()).map(|fill| fill.fill).collect();
    let mut points: Vec<FillPoint> =
        fills.iter().filter_map(|fill| point(setup, &nebulizer.squeeze, fill)).collect();
    let readings: Vec<Reading> = points
        .iter()
        .map(|point| Reading {
            value: point.standardised,
            allowance_high: point.allowance_high,
            allowance_low: point.allowance_low,
        })
        .collect();
    let run = cusum::run(setup.cusum, &readings);
    for (point, sums) in points.iter_mut().zip(run.points) {
        point.sums = sums;
    }
    let report = NebulizerReport {
        nebulizer: nebulizer.nebulizer,
        label: nebulizer.label.clone(),
        squeeze: nebulizer.squeeze,
        expected_ul: points.iter().map(|point| point.expected_ul).sum(),
        gone_ul: points.iter().map(|point| point.gone_ul).sum(),
        fills: points,
        unmeasured,
    };
    (report, run.signals)
}

/// The fill as a point whose sums are not yet there; none where its rest was not measured.
fn point(setup: &UsageSetup, squeeze: &SqueezeVolume, fill: &FillUse) -> Option<FillPoint> {
    let rest_ul = f64::from(fill.rest_ul?);
    let squeezes = f64::from(fill.squeezes);
    let expected_ul = squeezes * squeeze.ul;
    let gone_ul = f64::from(fill.filled_ul) - rest_ul - f64::from(fill.spilled_ul);
    let difference_ul = gone_ul - expected_ul;
    // The error of the squeeze's volume is the same in every fill, so it belongs in the allowance and not here.
    let deviation = (setup.filled_uncertainty_ul.powi(2)
        + setup.rest_uncertainty_ul.powi(2)
        + (setup.hand_spread * expected_ul).powi(2))
    .sqrt();
    Some(FillPoint {
        fill: fill.fill,
        filled_at: fill.filled_at,
        squeezes: fill.squeezes,
        expected_ul,
        gone_ul,
        difference_ul,
        standardised: difference_ul / deviation,
        sums: Point { high: 0.0, low: 0.0, signal: None },
        allowance_high: squeezes * (squeeze.high_ul - squeeze.ul) / deviation,
        allowance_low: squeezes * (squeeze.ul - squeeze.low_ul) / deviation,
    })
}
