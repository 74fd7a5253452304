//! Every value a rule set can hold: name, unit, kind, bounds, what is stricter, and what its absence means.

use super::strictness::Kind;
use crate::method::{Family, Method};

/// What a value belongs to.
#[derive(Debug, Clone, Copy)]
pub enum Scope {
    /// The rule set as a whole.
    Shared,
    /// Each method; the key is then written `<method>.<name>`.
    Methods(fn(Method) -> bool),
}

/// What holds when no set says anything that counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Silent {
    /// Nothing: the value is open, and what needs it cannot be used.
    Open,
    /// No.
    No,
    /// There is no such limit.
    NoLimit,
    /// The loosest word of its list.
    Loosest,
}

/// One value that a rule set can hold.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Its name, without the method it may belong to.
    pub name: &'static str,
    /// Its unit in words, which every rule set writes out.
    pub unit: &'static str,
    /// What kind of value it is, and which value is the stricter one.
    pub kind: Kind,
    /// What it belongs to.
    pub scope: Scope,
    /// What holds when it is absent.
    pub silent: Silent,
}

/// A key at its place: a shared one, or one of a method.
#[derive(Debug, Clone, Copy)]
pub struct Slot {
    /// The key.
    pub key: &'static Key,
    /// The method it belongs to, where it belongs to one.
    pub method: Option<Method>,
}

const DAY: i64 = 86_400;

const fn shared(name: &'static str, unit: &'static str, kind: Kind) -> Key {
    Key { name, unit, kind, scope: Scope::Shared, silent: Silent::Open }
}

const fn of(methods: fn(Method) -> bool, name: &'static str, unit: &'static str, kind: Kind) -> Key {
    Key { name, unit, kind, scope: Scope::Methods(methods), silent: Silent::Open }
}

const fn silent(silent: Silent, key: Key) -> Key {
    Key { silent, ..key }
}

const fn larger(least: i64, most: i64) -> Kind {
    Kind::Number { least, most, larger_is_stricter: true }
}

const fn smaller(least: i64, most: i64) -> Kind {
    Kind::Number { least, most, larger_is_stricter: false }
}

const YES_IS_STRICTER: Kind = Kind::Flag { stricter: true };

fn every(_: Method) -> bool {
    true
}

fn taste(method: Method) -> bool {
    method.family() == Family::Taste
}

fn odour(method: Method) -> bool {
    method.family() == Family::Odour
}

fn smoke(method: Method) -> bool {
    method.family() == Family::Smoke
}

fn measuring(method: Method) -> bool {
    method.is_quantitative()
}

fn generated(method: Method) -> bool {
    method == Method::GeneratedAerosol
}

fn pressure(method: Method) -> bool {
    method.family() == Family::Pressure
}

/// Every key, in the order in which values are listed.
pub const KEYS: &[Key] = &[
    shared("no_intake_seconds", "seconds", larger(0, DAY)),
    silent(Silent::No, shared("plain_water_check", "yes or no", YES_IS_STRICTER)),
    // There is a level for each of three sets and no more, and levels are counted in sets of ten.
    shared("screening_sets", "sets", smaller(1, 3)),
    shared("screening_set_squeezes", "squeezes", smaller(10, 10)),
    shared("wear_seconds", "seconds", larger(0, DAY)),
    shared("seal_check_tries", "failed seal checks", smaller(1, 255)),
    shared("redose_interval_seconds", "seconds", smaller(1, DAY)),
    // A later dose is not larger than the first.
    shared("redose_percent", "percent of the first dose", larger(1, 100)),
    shared("dose_early_tolerance_seconds", "seconds", smaller(0, DAY)),
    shared("dose_late_tolerance_seconds", "seconds", smaller(0, DAY)),
    shared("unsure_counts_as", "tasted or void", Kind::Words(&["void", "tasted"])),
    shared("ladder", "kind of ladder", Kind::Words(&["one_redon", "strict"])),
    shared("fails_before_referral", "fails in one day", smaller(1, 100)),
    shared("wait_after_fail_seconds", "seconds", larger(0, DAY)),
    shared("agent_switch_wait_seconds", "seconds", larger(0, DAY)),
    silent(
        Silent::Loosest,
        shared(
            "quantitative_after_fail",
            "refit or another respirator",
            Kind::Words(&["refit", "another_respirator"]),
        ),
    ),
    shared("fill_life_seconds", "seconds", smaller(1, 7 * DAY)),
    silent(Silent::NoLimit, shared("opened_life_days", "days", smaller(0, 36_500))),
    shared("interval_months", "months", smaller(1, 1_200)),
    shared("interval_strict_days", "days", smaller(1, 36_500)),
    shared(
        "due_reading",
        "anniversary, strict_days or earlier",
        Kind::Joined { words: &["anniversary", "strict_days"], both: "earlier" },
    ),
    shared("qualitative_fit_factor_max", "fit factor", smaller(1, 1_000_000)),
    of(every, "accepted", "yes or no", Kind::Flag { stricter: false }),
    of(every, "exercises", "list of exercises", Kind::List),
    of(taste, "clog_voids", "yes or no", YES_IS_STRICTER),
    of(odour, "settle_seconds", "seconds", larger(0, DAY)),
    of(odour, "wait_after_failed_screening_seconds", "seconds", larger(0, DAY)),
    of(smoke, "perimeter_passes", "passes", larger(0, 255)),
    of(measuring, "reading", "overall or every_exercise", Kind::Words(&["overall", "every_exercise"])),
    of(measuring, "pass_level_half_facepiece", "fit factor", larger(1, 1_000_000)),
    of(measuring, "pass_level_full_facepiece", "fit factor", larger(1, 1_000_000)),
    of(generated, "peak_percent_half_facepiece", "percent", smaller(0, 100)),
    of(generated, "peak_percent_full_facepiece", "percent", smaller(0, 100)),
    of(generated, "chamber_drift_percent", "percent", smaller(0, 100)),
    of(pressure, "breath_hold_seconds", "seconds", larger(1, 600)),
    silent(Silent::No, of(measuring, "while_moving", "yes or no", YES_IS_STRICTER)),
    of(measuring, "plausible_fit_factor_max", "fit factor", smaller(1, 1_000_000_000)),
];

impl Key {
    /// Whether it belongs to the rule set as a whole.
    pub const fn is_shared(&self) -> bool {
        matches!(self.scope, Scope::Shared)
    }

    /// Whether it belongs to this method.
    pub fn is_of(&self, method: Method) -> bool {
        match self.scope {
            Scope::Shared => false,
            Scope::Methods(belongs) => belongs(method),
        }
    }
}

impl Slot {
    /// The name under which it is listed: the key, with the method in front where it belongs to one.
    pub fn flat(&self) -> String {
        match self.method {
            Some(method) => format!("{method}.{}", self.key.name),
            None => self.key.name.to_owned(),
        }
    }

    /// Every shared key, in order.
    pub fn shared() -> impl Iterator<Item = Self> {
        KEYS.iter().filter(|key| key.is_shared()).map(|key| Self { key, method: None })
    }

    /// Every key of a method, in order.
    pub fn of(method: Method) -> impl Iterator<Item = Self> {
        KEYS.iter().filter(move |key| key.is_of(method)).map(move |key| Self { key, method: Some(method) })
    }

    /// Every key at every place, in the order of listing.
    pub fn all() -> impl Iterator<Item = Self> {
        Self::shared().chain(Method::ALL.iter().copied().flat_map(Self::of))
    }

    /// The shared key of this name, or that of the method.
    pub fn find(method: Option<Method>, name: &str) -> Option<Self> {
        let belongs = |key: &&'static Key| match method {
            Some(method) => key.is_of(method),
            None => key.is_shared(),
        };
        KEYS.iter().filter(belongs).find(|key| key.name == name).map(|key| Self { key, method })
    }
}
