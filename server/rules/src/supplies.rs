//! Supplies: until when a bottle and a fill may be used.

use std::ops::RangeInclusive;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use crate::dates::{days_after, end_of_day, local_date, seconds_after};
use crate::printed_expiry::PrintedExpiry;
use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// What the wearer may notice, and must not behind a tight respirator.
    pub enum Agent {
        /// Sodium saccharin, the sweet agent.
        Saccharin = "saccharin",
        /// Denatonium benzoate, the bitter agent.
        DenatoniumBenzoate = "denatonium_benzoate",
        /// Isoamyl acetate, which smells of bananas.
        IsoamylAcetate = "isoamyl_acetate",
        /// The smoke of a stannic chloride tube.
        IrritantSmoke = "irritant_smoke",
    }
}

impl Agent {
    /// The agents that are sprayed under a hood and tasted.
    pub const TASTES: &[Self] = &[Self::Saccharin, Self::DenatoniumBenzoate];

    /// Whether it is sprayed under a hood and tasted.
    pub const fn is_tasted(self) -> bool {
        matches!(self, Self::Saccharin | Self::DenatoniumBenzoate)
    }

    /// The taste agent to turn to when this one is not tasted; none for what is not tasted at all.
    pub const fn other_taste(self) -> Option<Self> {
        match self {
            Self::Saccharin => Some(Self::DenatoniumBenzoate),
            Self::DenatoniumBenzoate => Some(Self::Saccharin),
            Self::IsoamylAcetate | Self::IrritantSmoke => None,
        }
    }

    /// The name in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Saccharin => "saccharin",
            Self::DenatoniumBenzoate => "denatonium benzoate",
            Self::IsoamylAcetate => "isoamyl acetate",
            Self::IrritantSmoke => "irritant smoke",
        }
    }

    /// What it is noticed by, as one says it to the wearer.
    pub const fn sensation(self) -> &'static str {
        match self {
            Self::Saccharin => "sweet taste",
            Self::DenatoniumBenzoate => "bitter taste",
            Self::IsoamylAcetate => "smell of bananas",
            Self::IrritantSmoke => "irritation or cough",
        }
    }
}

text_enum! {
    /// Which strength a bottle holds. They are told apart by word, never by number or colour.
    pub enum Solution {
        /// The weak one, for the screening.
        Screening = "screening",
        /// The strong one, for the attempt; of irritant smoke the tube itself.
        Test = "test",
        /// What the screening solution of isoamyl acetate is made from (29 CFR 1910.134 App. A I.B.2(a)(3)).
        Stock = "stock",
    }
}

impl Agent {
    /// Whether there is such a solution of it at all.
    pub const fn has(self, solution: Solution) -> bool {
        match self {
            Self::Saccharin | Self::DenatoniumBenzoate => {
                matches!(solution, Solution::Screening | Solution::Test)
            }
            Self::IsoamylAcetate => true,
            Self::IrritantSmoke => matches!(solution, Solution::Test),
        }
    }

    /// Whether the solution is only ever made on the spot, because it lasts days and not years
    /// (29 CFR 1910.134 App. A I.B.2(a)(3) and (5)).
    pub const fn is_made_in_house(self, solution: Solution) -> bool {
        matches!((self, solution), (Self::IsoamylAcetate, Solution::Stock | Solution::Screening))
    }
}

text_enum! {
    /// What is filled from a bottle.
    pub enum Vessel {
        /// A nebulizer.
        Nebulizer = "nebulizer",
        /// One of the two screening jars for the odour (29 CFR 1910.134 App. A I.B.2(a)(1)).
        Jar = "jar",
        /// The towel in the chamber (29 CFR 1910.134 App. A I.B.2(b)(5)).
        Towel = "towel",
        /// A mixing bottle, for a stock that another solution is made from.
        MixingBottle = "mixing_bottle",
        /// The smoke tube itself.
        Tube = "tube",
    }
}

impl Agent {
    /// What its solution is filled into.
    pub const fn vessel(self, solution: Solution) -> Vessel {
        match (self, solution) {
            (Self::IrritantSmoke, _) => Vessel::Tube,
            (Self::IsoamylAcetate, Solution::Screening) => Vessel::Jar,
            (Self::IsoamylAcetate, Solution::Test) => Vessel::Towel,
            (_, Solution::Stock) => Vessel::MixingBottle,
            (Self::Saccharin | Self::DenatoniumBenzoate, _) => Vessel::Nebulizer,
        }
    }
}

impl Solution {
    /// The name in full words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Screening => "screening solution",
            Self::Test => "test solution",
            Self::Stock => "stock solution",
        }
    }
}

/// What one filling can be, in microlitres: less than 0.1 ml of what is sprayed is a slip of the pen for millilitres,
/// and more than 20 ml goes into no nebulizer (about 1 ml at a time: 29 CFR 1910.134 App. A I.B.3(a)(13); the ends are
/// common practice, no source).
const SPRAYED_FILL_UL: RangeInclusive<i64> = 100..=20_000;

/// The least that a bottle of what is sprayed comes with, in microlitres: one millilitre. Less is a slip of the pen for
/// millilitres (common practice, no source).
const SPRAYED_BOTTLE_UL_MIN: i64 = 1000;

/// Refuses a volume that no bottle comes with.
pub fn plausible_bottle(agent: Agent, volume_ul: i64) -> Result<(), Refusal> {
    if !agent.is_tasted() || volume_ul >= SPRAYED_BOTTLE_UL_MIN {
        return Ok(());
    }
    let detail =
        format!("A bottle comes with {SPRAYED_BOTTLE_UL_MIN} microlitres or more; 1 ml is 1000 microlitres.");
    Err(Refusal::new(Code::InvalidValue, detail).field("volume_ul").fact("least_ul", SPRAYED_BOTTLE_UL_MIN))
}

/// How much more than it came with a bottle can be found to hold, in percent: makers fill in a little more than is
/// printed (common practice, no source).
const OVERFILL_PERCENT: i64 = 10;

/// Refuses a volume that no filling has.
pub fn plausible_fill(agent: Agent, volume_ul: i64) -> Result<(), Refusal> {
    if !agent.is_tasted() || SPRAYED_FILL_UL.contains(&volume_ul) {
        return Ok(());
    }
    let (least, most) = SPRAYED_FILL_UL.into_inner();
    let detail =
        format!("A nebulizer is filled with {least} to {most} microlitres; 1 ml is 1000 microlitres.");
    Err(Refusal::new(Code::InvalidValue, detail)
        .field("volume_ul")
        .fact("least_ul", least)
        .fact("most_ul", most))
}

/// Refuses a volume that cannot be in the bottle or have come out of it at once.
pub fn plausible_in_bottle(volume_ul: i64, came_with_ul: i64) -> Result<(), Refusal> {
    let most = came_with_ul.saturating_add(came_with_ul.saturating_mul(OVERFILL_PERCENT) / 100);
    if volume_ul <= most {
        return Ok(());
    }
    let detail = format!(
        "This bottle came with {came_with_ul} microlitres and cannot hold {volume_ul}: look at the unit, and at the \
         label of the bottle."
    );
    Err(Refusal::new(Code::InvalidValue, detail).field("volume_ul").fact("most_ul", most))
}

text_enum! {
    /// What is counted in pieces instead of measured in volume.
    pub enum PieceKind {
        /// Nebulizers.
        Nebulizer = "nebulizer",
        /// Hoods.
        Hood = "hood",
        /// Facepieces of one respirator.
        Facepiece = "facepiece",
    }
}

text_enum! {
    /// How what is on a label came to be known.
    pub enum LabelReading {
        /// A scanner read it.
        Scanned = "scanned",
        /// It was typed twice, the same both times.
        TypedTwice = "typed_twice",
    }
}

/// What decides until when one bottle may be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BottleFacts {
    /// The expiry on the label of its lot.
    pub printed_expiry: PrintedExpiry,
    /// The day it was opened, when that is known.
    pub opened_on: Option<NaiveDate>,
    /// Days it may be used after the day of opening; none where neither label nor policy sets a limit.
    pub opened_life_days: Option<u32>,
    /// Whether its lot is stopped now.
    pub stopped: bool,
}

/// What decides whether one filling of a nebulizer may be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FillFacts {
    /// The agent of the bottle it came from.
    pub agent: Agent,
    /// The solution of that bottle.
    pub solution: Solution,
    /// When the nebulizer was filled; of one that was filled on top of a rest, when that rest was filled in.
    pub filled_at: DateTime<Utc>,
    /// When it was emptied, if it was.
    pub discarded_at: Option<DateTime<Utc>>,
    /// The bottle it came from.
    pub bottle: BottleFacts,
    /// The bottles of the rests below it: all of them have to be good.
    pub below: Vec<BottleFacts>,
}

/// Whether the bottle may be handed out on a day: its lot is not stopped, and its last day has not passed.
pub fn bottle_in_date(bottle: &BottleFacts, today: NaiveDate) -> Result<NaiveDate, Refusal> {
    if bottle.stopped {
        return Err(Refusal::new(Code::LotStopped, "This lot is stopped: take a bottle of another lot."));
    }
    let last_day = bottle.printed_expiry.last_day();
    if today > last_day {
        let detail = format!("This bottle expired after {last_day}: take another one.");
        return Err(Refusal::new(Code::BottleExpired, detail).fact("last_day", last_day.to_string()));
    }
    Ok(last_day)
}

/// The first moment at which the bottle may no longer be used, when it may be used at `at`.
///
/// The text of the rule sets no shelf life (29 CFR 1910.134 App. A I.B.3, absence in text): label and policy do.
pub fn bottle_usable(bottle: &BottleFacts, at: DateTime<Utc>, tz: Tz) -> Result<DateTime<Utc>, Refusal> {
    let today = local_date(at, tz);
    let last_day = bottle_in_date(bottle, today)?;
    let Some(opened_on) = bottle.opened_on.filter(|opened_on| *opened_on <= today) else {
        let detail = "This bottle has no opening date for that day: ask the storekeeper when it was opened.";
        return Err(Refusal::new(Code::BottleNotOpened, detail));
    };
    let Some(life) = bottle.opened_life_days else { return Ok(end_of_day(last_day, tz)) };
    let opened_last_day = days_after(opened_on, life);
    if today > opened_last_day {
        let detail = format!("This bottle was opened on {opened_on} and was good through {opened_last_day}.");
        return Err(Refusal::new(Code::OpenedLifeOver, detail).fact("last_day", opened_last_day.to_string()));
    }
    Ok(end_of_day(last_day.min(opened_last_day), tz))
}

/// The first moment at which the fill may no longer be used, when it may be used at `at`.
///
/// `fill_life_seconds` is the longest time between rinsing and refilling a nebulizer (29 CFR 1910.134 App. A
/// I.B.3(a)(14) and I.B.4(a)(14)).
pub fn fill_usable(
    fill: &FillFacts,
    fill_life_seconds: u32,
    at: DateTime<Utc>,
    tz: Tz,
) -> Result<DateTime<Utc>, Refusal> {
    if at < fill.filled_at || fill.discarded_at.is_some_and(|emptied| emptied <= at) {
        let detail = "The nebulizer was not filled at that moment: fill it and record the fill.";
        return Err(Refusal::new(Code::FillMissing, detail));
    }
    let mut bottle_until = bottle_usable(&fill.bottle, at, tz)?;
    for below in &fill.below {
        bottle_until = bottle_until.min(bottle_usable(below, at, tz)?);
    }
    // The text of the jars and of the tubes knows no such life; what is in them has the last day of its lot.
    if !fill.agent.is_tasted() {
        return Ok(bottle_until);
    }
    let life_until = seconds_after(fill.filled_at, fill_life_seconds);
    if at >= life_until {
        let detail = "This fill is too old: rinse the nebulizer, shake it dry and fill it again.";
        return Err(Refusal::new(Code::FillTooOld, detail).fact("usable_until", life_until));
    }
    Ok(life_until.min(bottle_until))
}

/// As [`fill_usable`], for a station that may have no fill, or one of the wrong agent or solution.
pub fn fill_required(
    fill: Option<&FillFacts>,
    agent: Agent,
    solution: Solution,
    fill_life_seconds: u32,
    at: DateTime<Utc>,
    tz: Tz,
) -> Result<DateTime<Utc>, Refusal> {
    let wanted = format!("{} of {}", solution.name(), agent.name());
    let Some(fill) = fill else {
        let detail = if agent.is_tasted() {
            format!("Fill a nebulizer with {wanted} and record the fill first.")
        } else {
            format!("Put out the {wanted} at this station and record it as a fill first.")
        };
        return Err(Refusal::new(Code::FillMissing, detail));
    };
    if fill.agent != agent {
        let detail = format!("This nebulizer holds {}: take one filled with {wanted}.", fill.agent.name());
        return Err(Refusal::new(Code::FillWrongAgent, detail));
    }
    if fill.solution != solution {
        let detail = format!("This nebulizer holds {}: take one filled with {wanted}.", fill.solution.name());
        return Err(Refusal::new(Code::FillWrongSolution, detail));
    }
    fill_usable(fill, fill_life_seconds, at, tz)
}
