//! How much one squeeze of a nebulizer gives, from weighings before and after counted squeezes.
//!
//! Uncertainties follow JCGM 100:2008 (the guide to the expression of uncertainty in measurement): a scale's step is a
//! rectangular distribution (4.3.7), a repeated weighing gives a standard deviation of the mean (4.2.3), independent
//! parts add as squares (5.1.2), and a range of two standard uncertainties is about 95 % (6.3.3).

use sellion_rules::{Code, Refusal};
use serde::{Deserialize, Serialize};

/// What one squeeze gives as long as nobody weighed, in microlitres. From memory: weigh and replace.
pub const ASSUMED_UL: f64 = 5.0;
/// The range it may lie in as long as nobody weighed, in microlitres. From memory.
pub const ASSUMED_RANGE_UL: (f64, f64) = (3.0, 8.0);

/// How far one weighing lies from the next, as a share of the volume, as long as there is only one. From memory.
const ASSUMED_SPREAD: f64 = 0.1;

/// Standard uncertainties to either side of a weighed volume that still count as the volume.
const COVERAGE: f64 = 2.0;

/// The weight of the liquid, in milligrams per microlitre, which is also grams per millilitre. From a light oil to a
/// thick syrup; anything else is a slip of the pen.
const DENSITY_MG_PER_UL: (f64, f64) = (0.7, 1.6);

/// One weighing of a nebulizer before and after counted squeezes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Weighing {
    /// The nebulizer with its liquid before, in milligrams.
    #[cfg_attr(feature = "openapi", schema(example = 41_250.0))]
    pub before_mg: f64,
    /// The same afterwards, in milligrams.
    #[cfg_attr(feature = "openapi", schema(example = 40_750.0))]
    pub after_mg: f64,
    /// Squeezes in between.
    #[cfg_attr(feature = "openapi", schema(example = 100))]
    pub squeezes: u32,
}

/// What one squeeze gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct SqueezeVolume {
    /// The best value, in microlitres.
    pub ul: f64,
    /// The least it may be, in microlitres.
    pub low_ul: f64,
    /// The most it may be, in microlitres.
    pub high_ul: f64,
    /// Its standard uncertainty, in microlitres.
    pub uncertainty_ul: f64,
    /// The weighings it comes from; 0 where it is assumed.
    pub weighings: u32,
    /// Whether nobody weighed yet: from memory, weigh and replace.
    pub assumed: bool,
}

impl Default for SqueezeVolume {
    /// The assumption. Its standard uncertainty is that of a rectangular distribution over its range.
    fn default() -> Self {
        let (low_ul, high_ul) = ASSUMED_RANGE_UL;
        let uncertainty_ul = (high_ul - low_ul) / 12_f64.sqrt();
        Self { ul: ASSUMED_UL, low_ul, high_ul, uncertainty_ul, weighings: 0, assumed: true }
    }
}

/// The volume of one squeeze from weighings with a scale of `scale_step_mg` and a liquid of `density_mg_per_ul`; the
/// assumption where there is none.
///
/// The mean of the weighings; its uncertainty is that of the two readings of each, and of their spread. One weighing
/// says nothing of a spread, so a tenth of the volume is taken for it. The spread of several holds the readings' part a
/// second time, so the range is rather too wide than too narrow.
///
/// # Errors
/// `invalid_value` where nothing was squeezed or nothing came out, a weight is no finite number above zero, the scale's
/// step is not above zero, or the density cannot be that of a solution in water.
pub fn squeeze_volume(
    weighings: &[Weighing],
    scale_step_mg: f64,
    density_mg_per_ul: f64,
) -> Result<SqueezeVolume, Refusal> {
    if weighings.is_empty() {
        return Ok(SqueezeVolume::default());
    }
    let (least, most) = DENSITY_MG_PER_UL;
    if !(least..=most).contains(&density_mg_per_ul) {
        let detail = format!("A density of {least} to {most} mg per microlitre is possible.");
        return Err(Refusal::new(Code::InvalidValue, detail).field("density_mg_per_ul"));
    }
    if !(scale_step_mg.is_finite() && scale_step_mg > 0.0) {
        let detail = "The step of the scale is a number of milligrams above zero.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("scale_step_mg"));
    }
    let volumes: Vec<f64> =
        weighings.iter().map(|weighing| one_volume(weighing, density_mg_per_ul)).collect::<Result<_, _>>()?;
    // Two readings for each weighing, each within half a step.
    let reading = 2.0 * scale_step_mg * scale_step_mg / 12.0;
    let readings: f64 = weighings
        .iter()
        .map(|weighing| reading / (f64::from(weighing.squeezes) * density_mg_per_ul).powi(2))
        .sum();
    let count = u32::try_from(volumes.len()).unwrap_or(u32::MAX);
    let many = f64::from(count);
    let ul = volumes.iter().sum::<f64>() / many;
    let spread = if count < 2 {
        (ASSUMED_SPREAD * ul).powi(2)
    } else {
        let squares: f64 = volumes.iter().map(|volume| (volume - ul).powi(2)).sum();
        squares / (many - 1.0) / many
    };
    let uncertainty_ul = (readings / (many * many) + spread).sqrt();
    Ok(SqueezeVolume {
        ul,
        low_ul: (ul - COVERAGE * uncertainty_ul).max(0.0),
        high_ul: ul + COVERAGE * uncertainty_ul,
        uncertainty_ul,
        weighings: count,
        assumed: false,
    })
}

fn one_volume(weighing: &Weighing, density_mg_per_ul: f64) -> Result<f64, Refusal> {
    let Weighing { before_mg, after_mg, squeezes } = *weighing;
    let weights = [before_mg, after_mg].iter().all(|weight| weight.is_finite() && *weight > 0.0);
    if !weights {
        let detail = "A weight is a number of milligrams above zero.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("before_mg"));
    }
    if squeezes == 0 {
        let detail = "Count the squeezes between the two weighings: there were none.";
        return Err(Refusal::new(Code::InvalidValue, detail).field("squeezes"));
    }
    if after_mg >= before_mg {
        let detail = format!(
            "Nothing came out: {before_mg} mg before and {after_mg} mg after {squeezes} squeezes. Is the nebulizer \
             clogged, or are the weights the wrong way round?"
        );
        return Err(Refusal::new(Code::InvalidValue, detail).field("after_mg"));
    }
    Ok((before_mg - after_mg) / f64::from(squeezes) / density_mg_per_ul)
}
