//! What a signal of the sums means, told apart by its sign and by whether it lasts.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FillPoint, NebulizerReport};
use crate::cusum::{Setup, Side, Signal};

/// A single fill must stand out by this many standard deviations to explain a signal alone. Common practice, no source.
const STANDS_OUT: f64 = 3.0;

/// What a difference looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum FindingKind {
    /// More gone than squeezed, fill after fill.
    Leak,
    /// More gone than squeezed, in one fill.
    Spill,
    /// Less gone than squeezed, fill after fill: a clog, or a nebulizer that weakens.
    Clog,
    /// Less gone than squeezed, in one fill: squeezes that were written down and not given.
    SkippedDoses,
    /// One bottle is short by about what another has too much.
    WrongBottle,
    /// A bottle differs from its book, and no other explains it.
    BottleDiffers,
}

/// Something to look into.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema), schema(as = UsageFinding))]
pub struct Finding {
    /// What it looks like.
    pub kind: FindingKind,
    /// The nebulizer, where it is about one.
    pub nebulizer: Option<Uuid>,
    /// The bottle, where it is about one: of two, the one that is short.
    pub bottle: Option<Uuid>,
    /// The bottle that has too much, where it is about two.
    pub other_bottle: Option<Uuid>,
    /// The first fill it shows in.
    pub from_fill: Option<Uuid>,
    /// When that fill was made.
    pub from_at: Option<DateTime<Utc>>,
    /// The fill at which it was last signalled.
    pub to_fill: Option<Uuid>,
    /// Measured fills from the one to the other.
    pub fills: u32,
    /// The whole difference in microlitres, as a positive number.
    pub size_ul: f64,
    /// The same for one fill.
    pub per_fill_ul: f64,
    /// Whether it rests on a volume of a squeeze that nobody weighed.
    pub assumed_volume: bool,
    /// What was seen, with its numbers.
    pub words: String,
    /// What to check.
    pub check: String,
}

/// Signals of one side that follow each other belong to one cause.
struct Episode {
    side: Side,
    from: usize,
    to: usize,
}

/// What the signals at one nebulizer mean.
pub(super) fn at_nebulizer(setup: Setup, report: &NebulizerReport, signals: &[Signal]) -> Vec<Finding> {
    episodes(signals).iter().filter_map(|episode| finding(setup, report, episode)).collect()
}

fn episodes(signals: &[Signal]) -> Vec<Episode> {
    let mut episodes: Vec<Episode> = Vec::new();
    for signal in signals {
        match episodes.last_mut() {
            // One fill between them that fell the other way by chance does not end the cause.
            Some(last) if last.side == signal.side && signal.from <= last.to.saturating_add(2) => {
                last.to = signal.at;
            }
            _ => episodes.push(Episode { side: signal.side, from: signal.from, to: signal.at }),
        }
    }
    episodes
}

/// How far the fill stands out on this side, beyond what the volume of a squeeze explains, in standard deviations.
fn excess(side: Side, point: &FillPoint) -> f64 {
    match side {
        Side::High => point.standardised - point.allowance_high,
        Side::Low => -point.standardised - point.allowance_low,
    }
}

fn finding(setup: Setup, report: &NebulizerReport, episode: &Episode) -> Option<Finding> {
    let points = report.fills.get(episode.from..=episode.to)?;
    let side = episode.side;
    let outlier = single(setup, side, points);
    let shown = outlier.map_or(points, std::slice::from_ref);
    let (first, last) = (shown.first()?, shown.last()?);
    let fills = u32::try_from(shown.len()).unwrap_or(u32::MAX);
    let size_ul = shown.iter().map(|point| point.difference_ul).sum::<f64>().abs();
    let kind = match (side, outlier.is_some()) {
        (Side::High, false) => FindingKind::Leak,
        (Side::High, true) => FindingKind::Spill,
        (Side::Low, false) => FindingKind::Clog,
        (Side::Low, true) => FindingKind::SkippedDoses,
    };
    let per_fill_ul = size_ul / f64::from(fills.max(1));
    let expected_ul: f64 = shown.iter().map(|point| point.expected_ul).sum();
    Some(Finding {
        kind,
        nebulizer: Some(report.nebulizer),
        bottle: None,
        other_bottle: None,
        from_fill: Some(first.fill),
        from_at: Some(first.filled_at),
        to_fill: Some(last.fill),
        fills,
        size_ul,
        per_fill_ul,
        assumed_volume: report.squeeze.assumed,
        words: words(report, side, fills, size_ul, expected_ul),
        check: check(kind, report.squeeze.assumed),
    })
}

/// The fill that explains the signal alone: it stands out, and all others together add less than half as much.
fn single(setup: Setup, side: Side, points: &[FillPoint]) -> Option<&FillPoint> {
    let most = points.iter().max_by(|a, b| excess(side, a).total_cmp(&excess(side, b)))?;
    let added = |point: &FillPoint| excess(side, point) - setup.reference();
    let others: f64 = points.iter().filter(|point| point.fill != most.fill).map(added).sum();
    (excess(side, most) >= STANDS_OUT && others < added(most) / 2.0).then_some(most)
}

fn words(report: &NebulizerReport, side: Side, fills: u32, size_ul: f64, expected_ul: f64) -> String {
    let direction = if side == Side::High { "more" } else { "less" };
    let when = if fills == 1 { "in one fill".to_owned() } else { format!("in {fills} measured fills") };
    let a_fill = if fills == 1 {
        String::new()
    } else {
        format!(", about {:.0} microlitres a fill", size_ul / f64::from(fills.max(1)))
    };
    let label = &report.label;
    format!(
        "Nebulizer {label}: {size_ul:.0} microlitres {direction} are gone than the squeezes explain, {when}{a_fill}. \
         Expected were {expected_ul:.0} microlitres."
    )
}

fn check(kind: FindingKind, assumed: bool) -> String {
    let check = match kind {
        FindingKind::Leak => {
            "Look for drops at the nebulizer's joints and valve, and for a bulb that sprays more than when it was \
             weighed. Weigh again."
        }
        FindingKind::Spill => {
            "Ask whether something was spilled or thrown away in this fill, and write it down."
        }
        FindingKind::Clog => {
            "Look at the spray now. If it is weak or gone, the attempts since the last good spray check need a \
             review. If it is good, ask whether squeezes were left out, and weigh again."
        }
        FindingKind::SkippedDoses => {
            "Ask whether all squeezes of this fill were given, and whether the spray was seen. Attempts with missing \
             doses do not count."
        }
        FindingKind::WrongBottle | FindingKind::BottleDiffers => "Count both bottles again.",
    };
    let first =
        if assumed { "Weigh this nebulizer first: the volume of its squeeze is assumed. " } else { "" };
    format!("{first}{check}")
}
