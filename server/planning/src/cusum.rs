//! Running sums that notice a small lasting change: the two-sided tabular CUSUM on standardised values.
//!
//! E. S. Page, Biometrika 1954;41:100-115; the tabular form is that of the NIST/SEMATECH e-Handbook of Statistical
//! Methods, 6.3.2.3. All values are in standard deviations of one value.

use sellion_rules::{Code, Refusal};
use serde::{Deserialize, Serialize};

/// Bounds of the reference value.
const REFERENCE_MAX: f64 = 3.0;
/// Bounds of the decision interval.
const DECISION: (f64, f64) = (1.0, 20.0);

/// How sensitive the sums are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Written")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Setup {
    /// What is taken off every value before it is added (k), in standard deviations: half the change to be noticed.
    #[cfg_attr(feature = "openapi", schema(example = 0.5))]
    reference: f64,
    /// The sum above which a change is signalled (h), in standard deviations.
    #[cfg_attr(feature = "openapi", schema(example = 5.0))]
    decision: f64,
}

/// As it travels, before it is looked at.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    reference: f64,
    decision: f64,
}

impl TryFrom<Written> for Setup {
    type Error = Refusal;

    fn try_from(written: Written) -> Result<Self, Refusal> {
        Self::new(written.reference, written.decision)
    }
}

impl Default for Setup {
    /// k = 0.5 and h = 5, the usual choice for a change of one standard deviation.
    fn default() -> Self {
        Self { reference: 0.5, decision: 5.0 }
    }
}

impl Setup {
    /// A setup from `reference` (k) and `decision` (h).
    ///
    /// # Errors
    /// `invalid_value` where k is not from 0 to 3 or h not from 1 to 20.
    pub fn new(reference: f64, decision: f64) -> Result<Self, Refusal> {
        if !(0.0..=REFERENCE_MAX).contains(&reference) {
            let detail = format!("The reference value is from 0 to {REFERENCE_MAX} standard deviations.");
            return Err(Refusal::new(Code::InvalidValue, detail).field("reference"));
        }
        let (least, most) = DECISION;
        if !(least..=most).contains(&decision) {
            let detail = format!("The decision interval is from {least} to {most} standard deviations.");
            return Err(Refusal::new(Code::InvalidValue, detail).field("decision"));
        }
        Ok(Self { reference, decision })
    }

    /// The reference value, k.
    pub const fn reference(self) -> f64 {
        self.reference
    }

    /// The decision interval, h.
    pub const fn decision(self) -> f64 {
        self.decision
    }
}

/// In which direction the values moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Side {
    /// Upwards.
    High,
    /// Downwards.
    Low,
}

/// One value, and by how much its mean may lie off zero without anything being wrong.
///
/// Where the zero itself was measured, its error shifts every value alike and no averaging removes it. The allowance is
/// taken off together with k, so that such an error makes no more false alarms than chance does.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// The standardised value.
    pub value: f64,
    /// How far its mean may lie above zero; never negative.
    pub allowance_high: f64,
    /// How far its mean may lie below zero, as a positive number.
    pub allowance_low: f64,
}

impl From<f64> for Reading {
    fn from(value: f64) -> Self {
        Self { value, ..Self::default() }
    }
}

/// The sums after one value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Point {
    /// The upper sum; what it was when it signalled, although the next value begins at zero again.
    pub high: f64,
    /// The lower sum, as a positive number.
    pub low: f64,
    /// The side that signalled at this value.
    pub signal: Option<Side>,
}

/// A change that was noticed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Signal {
    /// In which direction.
    pub side: Side,
    /// The place of the value at which the sum passed h, from 0.
    pub at: usize,
    /// The place of the first value since the sum was last zero: when the change seems to have begun.
    pub from: usize,
    /// The estimated size of the change in standard deviations, beyond any allowance: k and the sum divided by the
    /// values it was gathered from (6.3.2.3 of the handbook).
    pub shift: f64,
}

/// All sums and signals of one series.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Run {
    /// One for each value.
    pub points: Vec<Point>,
    /// In order.
    pub signals: Vec<Signal>,
}

/// One of the two sums, and since which value it has been above zero.
#[derive(Clone, Copy, Default)]
struct Sum {
    height: f64,
    from: Option<usize>,
}

impl Sum {
    fn add(&mut self, at: usize, step: f64) {
        self.height = (self.height + step).max(0.0);
        self.from = if self.height > 0.0 { self.from.or(Some(at)) } else { None };
    }

    fn signal(self, side: Side, at: usize, setup: Setup) -> Option<Signal> {
        if self.height <= setup.decision {
            return None;
        }
        let from = self.from.unwrap_or(at);
        let values = u32::try_from(at.saturating_sub(from)).map_or(f64::MAX, |n| f64::from(n) + 1.0);
        Some(Signal { side, at, from, shift: setup.reference + self.height / values })
    }
}

/// Runs both sums over the values. After a signal both begin again at zero.
///
/// A value that is not a finite number leaves the sums as they are.
pub fn run(setup: Setup, readings: &[Reading]) -> Run {
    let (mut high, mut low) = (Sum::default(), Sum::default());
    let mut run = Run::default();
    for (at, reading) in readings.iter().enumerate() {
        let Reading { value, allowance_high, allowance_low } = *reading;
        if [value, allowance_high, allowance_low].iter().all(|number| number.is_finite()) {
            high.add(at, value - setup.reference - allowance_high.max(0.0));
            low.add(at, -value - setup.reference - allowance_low.max(0.0));
        }
        let signal = high.signal(Side::High, at, setup).or_else(|| low.signal(Side::Low, at, setup));
        run.points.push(Point {
            high: high.height,
            low: low.height,
            signal: signal.map(|signal| signal.side),
        });
        if let Some(signal) = signal {
            run.signals.push(signal);
            (high, low) = (Sum::default(), Sum::default());
        }
    }
    run
}
