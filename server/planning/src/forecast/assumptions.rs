//! What a forecast takes for granted as long as the site has not measured it: every number with its unit and source.

use sellion_rules::supplies::Solution;
use sellion_rules::{Code, Refusal};
use serde::{Deserialize, Serialize};

/// The numbers behind a forecast. Each may be replaced by the site's own; what is left out is the default.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Assumptions {
    /// Share of those who taste at all that taste within 10 squeezes; the three shares are taken in proportion.
    pub share_level_10: f64,
    /// Share that tastes within 20.
    pub share_level_20: f64,
    /// Share that tastes within 30.
    pub share_level_30: f64,
    /// Squeezes in one complete attempt at level 10; twice and three times as many at levels 20 and 30.
    pub test_squeezes_level_10: f64,
    /// What one squeeze gives, in microlitres.
    pub squeeze_ul: f64,
    /// Share of people who do not taste the first agent and go on with the other one.
    pub not_tasted_share: f64,
    /// Share of booked people who do not come.
    pub no_show_share: f64,
    /// Share of first attempts that fail; each is repeated on another respirator.
    pub fail_share: f64,
    /// Share of those second attempts that fail, and lead to a third one.
    pub fail_share_second: f64,
    /// Void attempts, as a share of those that count; each is repeated.
    pub void_share: f64,
    /// What is filled into a nebulizer at a time, in microlitres.
    pub fill_ul: f64,
    /// What is thrown away of a fill of test solution on average, in microlitres.
    pub thrown_test_ul: f64,
    /// What is thrown away of a fill of screening solution on average, in microlitres.
    pub thrown_screening_ul: f64,
    /// The longest life of a fill, in seconds.
    pub fill_life_seconds: f64,
    /// What is wanted on top of the need, as a share of it.
    pub safety_share: f64,
    /// Volume of a new bottle of test solution, in microlitres.
    pub bottle_test_ul: f64,
    /// Volume of a new bottle of screening solution, in microlitres.
    pub bottle_screening_ul: f64,
    /// Attempts in one hour at one station, where nobody measured.
    pub attempts_per_station_hour: f64,
    /// Screenings in one hour at one station, where nobody measured.
    pub screenings_per_station_hour: f64,
    /// Facepieces used for each person seen.
    pub facepieces_per_head: f64,
}

impl Default for Assumptions {
    fn default() -> Self {
        let mut assumptions = Self {
            share_level_10: 0.0,
            share_level_20: 0.0,
            share_level_30: 0.0,
            test_squeezes_level_10: 0.0,
            squeeze_ul: 0.0,
            not_tasted_share: 0.0,
            no_show_share: 0.0,
            fail_share: 0.0,
            fail_share_second: 0.0,
            void_share: 0.0,
            fill_ul: 0.0,
            thrown_test_ul: 0.0,
            thrown_screening_ul: 0.0,
            fill_life_seconds: 0.0,
            safety_share: 0.0,
            bottle_test_ul: 0.0,
            bottle_screening_ul: 0.0,
            attempts_per_station_hour: 0.0,
            screenings_per_station_hour: 0.0,
            facepieces_per_head: 0.0,
        };
        for line in LINES {
            *(line.place)(&mut assumptions) = line.default;
        }
        assumptions
    }
}

/// How far a default can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Trust {
    /// From the text of a rule.
    Published,
    /// Arithmetic on other lines.
    Computed,
    /// Common practice, no source.
    CommonPractice,
    /// From memory: measure and replace.
    FromMemory,
    /// Measured at this site.
    Measured,
    /// Not the default: set at this site.
    SetHere,
}

/// One assumption, to be shown beside the forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct AssumptionShown {
    /// Its name in [`Assumptions`].
    pub name: &'static str,
    /// The value in use.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// How far it can be trusted.
    pub trust: Trust,
    /// Where the value comes from; of one that was set, what the default is and where that comes from.
    pub source: String,
}

/// What one squeeze gives by the site's own weighings.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredSqueeze {
    /// The volume, in microlitres.
    pub ul: f64,
    /// Which weighings it comes from.
    pub source: String,
}

/// One row of the table of all assumptions.
struct Line {
    name: &'static str,
    unit: &'static str,
    default: f64,
    range: (f64, f64),
    trust: Trust,
    source: &'static str,
    place: fn(&mut Assumptions) -> &mut f64,
}

macro_rules! lines {
    ($($name:ident, $unit:literal, $default:literal, $least:literal ..= $most:literal, $trust:ident, $source:literal;)+) => {
        [$(Line {
            name: stringify!($name),
            unit: $unit,
            default: $default,
            range: ($least, $most),
            trust: Trust::$trust,
            source: $source,
            place: |assumptions| &mut assumptions.$name,
        }),+]
    };
}

const LINES: [Line; 20] = lines! {
    share_level_10, "share", 0.80, 0.0..=1.0, FromMemory, "range 0.6 to 0.9";
    share_level_20, "share", 0.15, 0.0..=1.0, FromMemory, "range 0.08 to 0.3";
    share_level_30, "share", 0.05, 0.0..=1.0, FromMemory, "range 0.02 to 0.12";
    test_squeezes_level_10, "squeezes", 75.0, 1.0..=1000.0, Computed,
        "29 CFR 1910.134 App. A I.B.3(b)(7), (9): 10 at first and 5 every 30 seconds, 13 times in 7 minutes";
    squeeze_ul, "microlitres", 5.0, 0.5..=50.0, FromMemory, "range 3 to 8: weigh and replace";
    not_tasted_share, "share of people", 0.03, 0.0..=1.0, FromMemory, "range 0.01 to 0.1 for saccharin";
    no_show_share, "share of people booked", 0.08, 0.0..=1.0, CommonPractice, "range 0.05 to 0.15";
    fail_share, "share of first attempts", 0.15, 0.0..=1.0, CommonPractice, "range 0.08 to 0.3";
    fail_share_second, "share of second attempts", 0.35, 0.0..=1.0, FromMemory, "wide range";
    void_share, "share of attempts", 0.03, 0.0..=1.0, CommonPractice, "range 0.01 to 0.08";
    fill_ul, "microlitres", 1000.0, 100.0..=20_000.0, Published,
        "29 CFR 1910.134 App. A I.B.3(a)(13): about 1 ml at a time";
    thrown_test_ul, "microlitres a fill", 505.0, 0.0..=20_000.0, Computed,
        "so that 100 complete tests take 95 ml, the middle of common practice (70 to 120 ml, no source)";
    thrown_screening_ul, "microlitres a fill", 790.0, 0.0..=20_000.0, Computed,
        "so that 100 screenings take 30 ml, the middle of common practice (15 to 40 ml, no source)";
    fill_life_seconds, "seconds", 14_400.0, 600.0..=86_400.0, Published,
        "29 CFR 1910.134 App. A I.B.3(a)(14): at least every four hours";
    safety_share, "share of the need", 0.30, 0.0..=5.0, CommonPractice, "no source";
    bottle_test_ul, "microlitres", 50_000.0, 1000.0..=10_000_000.0, CommonPractice, "an example: set the size bought";
    bottle_screening_ul, "microlitres", 50_000.0, 1000.0..=10_000_000.0, CommonPractice,
        "an example: set the size bought";
    attempts_per_station_hour, "attempts", 4.0, 0.0..=120.0, Computed,
        "one chair, screened and tested there, worn in elsewhere";
    screenings_per_station_hour, "screenings", 4.0, 0.0..=120.0, Computed, "one for every attempt";
    facepieces_per_head, "facepieces", 1.3, 0.0..=20.0, Computed, "range 1.15 to 1.4, from the fail shares";
};

/// The assumption that weighings replace.
pub const SQUEEZE: &str = "squeeze_ul";

/// Less than this share of a fill must not be left to spray, or every attempt would need many fills.
const USED_LEAST: f64 = 0.05;

impl Assumptions {
    /// Whether every number can be meant.
    ///
    /// # Errors
    /// `invalid_value` with the field: a number out of its range, three levels that nobody tastes, or fills of which
    /// next to nothing is sprayed.
    pub fn check(&self) -> Result<(), Refusal> {
        let refused =
            |field: &'static str, detail: String| Err(Refusal::new(Code::InvalidValue, detail).field(field));
        let mut copy = *self;
        for line in LINES {
            let (least, most) = line.range;
            if !(least..=most).contains((line.place)(&mut copy)) {
                return refused(line.name, format!("From {least} to {most} {} can be meant.", line.unit));
            }
        }
        if self.shares() <= 0.0 {
            return refused("share_level_10", "Somebody must taste at one of the three levels.".to_owned());
        }
        for solution in [Solution::Test, Solution::Screening] {
            if self.used_share(solution) < USED_LEAST {
                let field = if solution == Solution::Test { "thrown_test_ul" } else { "thrown_screening_ul" };
                return refused(field, "At least a twentieth of a fill must be sprayed.".to_owned());
            }
        }
        Ok(())
    }

    /// Every assumption as it is shown; what was measured counts as measured as long as nobody set another value.
    pub fn shown(&self, measured: Option<&MeasuredSqueeze>) -> Vec<AssumptionShown> {
        let mut copy = *self;
        let shown = LINES.iter().map(|line| {
            let value = *(line.place)(&mut copy);
            let is = |other: f64| (value - other).abs() < f64::EPSILON;
            let weighed = measured.filter(|measured| line.name == SQUEEZE && is(measured.ul));
            let (trust, source) = match weighed {
                Some(measured) => (Trust::Measured, measured.source.clone()),
                None if is(line.default) => (line.trust, line.source.to_owned()),
                None => (Trust::SetHere, format!("instead of {} ({})", line.default, line.source)),
            };
            AssumptionShown { name: line.name, value, unit: line.unit, trust, source }
        });
        shown.collect()
    }

    /// Mean squeezes of a screening of somebody who tastes.
    pub fn screening_squeezes(&self) -> f64 {
        let weighted = self.share_level_10 + 2.0 * self.share_level_20 + 3.0 * self.share_level_30;
        10.0 * weighted / self.shares()
    }

    /// Mean squeezes of a complete attempt.
    pub fn test_squeezes(&self) -> f64 {
        self.screening_squeezes() / 10.0 * self.test_squeezes_level_10
    }

    /// Attempts for each person seen: the first, those after fails, and void ones again.
    pub fn attempts_per_head(&self) -> f64 {
        (1.0 + self.fail_share * (1.0 + self.fail_share_second)) * (1.0 + self.void_share)
    }

    /// The share of a fill that is sprayed and not thrown away.
    pub fn used_share(&self, solution: Solution) -> f64 {
        let thrown = match solution {
            Solution::Test => self.thrown_test_ul,
            Solution::Screening | Solution::Stock => self.thrown_screening_ul,
        };
        1.0 - thrown / self.fill_ul
    }

    /// Volume of a new bottle, in microlitres.
    pub const fn bottle_ul(&self, solution: Solution) -> f64 {
        match solution {
            Solution::Test => self.bottle_test_ul,
            Solution::Screening | Solution::Stock => self.bottle_screening_ul,
        }
    }

    /// Bottles for 100 complete attempts, or for 100 screenings of people who taste, with what is thrown away.
    pub fn bottles_per_100(&self, solution: Solution) -> u64 {
        let squeezes = match solution {
            Solution::Test => self.test_squeezes(),
            Solution::Screening | Solution::Stock => self.screening_squeezes(),
        };
        let ul = 100.0 * squeezes * self.squeeze_ul / self.used_share(solution);
        bottles(ul, self.bottle_ul(solution))
    }

    fn shares(&self) -> f64 {
        self.share_level_10 + self.share_level_20 + self.share_level_30
    }
}

/// Whole bottles of `bottle_ul` that hold `ul`.
pub(super) fn bottles(ul: f64, bottle_ul: f64) -> u64 {
    (ul / bottle_ul).ceil().max(0.0) as u64
}
