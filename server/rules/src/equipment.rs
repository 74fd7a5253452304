//! Nebulizers and hoods: what was found on them, and whether they may be used.

use chrono::{DateTime, Utc};

use crate::dates::{seconds_after, seconds_until};
use crate::refusal::{Code, Refusal};
use crate::text_enum::text_enum;

text_enum! {
    /// What has a label of its own and is used again and again.
    pub enum EquipmentKind {
        /// A nebulizer.
        Nebulizer = "nebulizer",
        /// A hood.
        Hood = "hood",
    }
}

text_enum! {
    /// What was found on a nebulizer or hood, or done to it.
    pub enum Finding {
        /// The nebulizer sprays: a good check.
        Sprays = "sprays",
        /// The nebulizer does not spray as it should.
        Clogged = "clogged",
        /// Another liquid than its own was poured into the nebulizer.
        MixedUp = "mixed_up",
        /// The nebulizer was rinsed in water and shaken dry.
        Rinsed = "rinsed",
        /// The hood was wiped; its contact time runs from here.
        Wiped = "wiped",
        /// The hood is torn.
        Torn = "torn",
        /// It is used no more.
        Retired = "retired",
    }
}

text_enum! {
    /// Whether a nebulizer or hood may be used.
    pub enum EquipmentState {
        /// It may be used.
        Ready = "ready",
        /// Out until it was rinsed and sprays again.
        Clogged = "clogged",
        /// Out until it was rinsed.
        MixedUp = "mixed_up",
        /// The hood was used by somebody else since it was last wiped.
        NeedsWipe = "needs_wipe",
        /// The wipe has to stay wet for a while yet.
        Wiping = "wiping",
        /// Somebody is under it.
        InUse = "in_use",
        /// It is torn.
        Torn = "torn",
        /// It is used no more.
        Retired = "retired",
    }
}

impl EquipmentKind {
    /// Whether this can be found on it.
    pub const fn can_be(self, finding: Finding) -> bool {
        match finding {
            Finding::Sprays | Finding::Clogged | Finding::MixedUp | Finding::Rinsed => {
                matches!(self, Self::Nebulizer)
            }
            Finding::Wiped | Finding::Torn => matches!(self, Self::Hood),
            Finding::Retired => true,
        }
    }

    /// The name in words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Nebulizer => "nebulizer",
            Self::Hood => "hood",
        }
    }
}

/// One finding at its moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FindingFact {
    /// What was found or done.
    pub finding: Finding,
    /// When.
    pub happened_at: DateTime<Utc>,
}

/// The newest use of a hood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HoodUse {
    /// When the run under it began.
    pub began_at: DateTime<Utc>,
    /// When it ended; none while it runs.
    pub ended_at: Option<DateTime<Utc>>,
}

/// The state of a nebulizer at `at`, from its findings in the order in which they happened.
///
/// A clogged nebulizer is out until it was rinsed and seen to spray (29 CFR 1910.134 App. A I.B.3(b)(12) has a clogged
/// one invalidate the test; how it is mended is common practice, no source).
pub fn nebulizer_state(findings: &[FindingFact], at: DateTime<Utc>) -> EquipmentState {
    let mut state = EquipmentState::Ready;
    for fact in findings.iter().filter(|fact| fact.happened_at <= at) {
        state = match (state, fact.finding) {
            (_, Finding::Retired) | (EquipmentState::Retired, _) => EquipmentState::Retired,
            (_, Finding::MixedUp) => EquipmentState::MixedUp,
            (EquipmentState::MixedUp, Finding::Clogged) => EquipmentState::MixedUp,
            (_, Finding::Clogged) => EquipmentState::Clogged,
            (EquipmentState::MixedUp, Finding::Rinsed) | (EquipmentState::Clogged, Finding::Sprays) => {
                EquipmentState::Ready
            }
            (unchanged, _) => unchanged,
        };
    }
    state
}

/// The state of a hood at `at`, and the moment it will be ready where that is known.
///
/// `last_use` is the newest use by somebody else than who is to use it now.
pub fn hood_state(
    findings: &[FindingFact],
    last_use: Option<HoodUse>,
    contact_seconds: u32,
    at: DateTime<Utc>,
) -> (EquipmentState, Option<DateTime<Utc>>) {
    let by_now = || findings.iter().filter(|fact| fact.happened_at <= at);
    if by_now().any(|fact| fact.finding == Finding::Retired) {
        return (EquipmentState::Retired, None);
    }
    if by_now().any(|fact| fact.finding == Finding::Torn) {
        return (EquipmentState::Torn, None);
    }
    let wiped = || by_now().filter(|fact| fact.finding == Finding::Wiped).map(|fact| fact.happened_at);
    let wet = |wiped_at: DateTime<Utc>| {
        let ready_at = seconds_after(wiped_at, contact_seconds);
        if at < ready_at { (EquipmentState::Wiping, Some(ready_at)) } else { (EquipmentState::Ready, None) }
    };
    let Some(last_use) = last_use.filter(|last_use| last_use.began_at <= at) else {
        return wiped().max().map_or((EquipmentState::Ready, None), wet);
    };
    let Some(ended_at) = last_use.ended_at.filter(|ended_at| *ended_at <= at) else {
        return (EquipmentState::InUse, None);
    };
    // The first wipe after the use counts: a second one does no harm to what is ready.
    wiped().filter(|wiped_at| *wiped_at >= ended_at).min().map_or((EquipmentState::NeedsWipe, None), wet)
}

/// Letters that one slip of the pen may be away from the label that was meant.
const SLIPS_MAX: usize = 2;

/// Refuses a nebulizer that nobody registered: a slip of the pen would make a second one of it, with a record of its
/// own. Where a label that is known looks much the same, that one is named.
pub fn unknown_nebulizer<'l>(label: &str, known: impl IntoIterator<Item = &'l str>) -> Refusal {
    let typed = label.to_lowercase();
    let slips = |known: &str| strsim::damerau_levenshtein(&typed, &known.to_lowercase());
    let nearest = known.into_iter().map(|known| (slips(known), known)).min();
    // A label of two letters is not two slips away from every other one.
    let most = label.chars().count().saturating_sub(1).min(SLIPS_MAX);
    let meant = nearest.filter(|(slips, _)| *slips <= most).map(|(_, known)| known);
    let sentence = match meant {
        Some(meant) => {
            format!("No nebulizer {label} is registered. Is it {meant}? If not, have it registered.")
        }
        None => format!("No nebulizer {label} is registered: read its label again, or have it registered."),
    };
    let refusal = Refusal::new(Code::NebulizerUnknown, sentence).field("nebulizer");
    match meant {
        Some(meant) => refusal.fact("did_you_mean", meant),
        None => refusal,
    }
}

/// Refuses a nebulizer or hood that may not be used, with what to do about it.
pub fn must_be_ready(
    (kind, label): (EquipmentKind, &str),
    (state, ready_at): (EquipmentState, Option<DateTime<Utc>>),
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let what = format!("The {} {label}", kind.name());
    let sentence = match state {
        EquipmentState::Ready => return Ok(()),
        EquipmentState::Clogged => {
            format!("{what} was found clogged: rinse it, see that it sprays, and record both.")
        }
        EquipmentState::MixedUp => format!("{what} got another liquid: rinse it and record that."),
        EquipmentState::NeedsWipe => format!("{what} was used by somebody else: wipe it and record that."),
        EquipmentState::Wiping => {
            let left = ready_at.map_or(0, |ready_at| seconds_until(at, ready_at));
            format!("{what} is still wet from the wipe: {left} seconds more, or take another one.")
        }
        EquipmentState::InUse => format!("Somebody is under {label}: take another {}.", kind.name()),
        EquipmentState::Torn => format!("{what} is torn: take another one."),
        EquipmentState::Retired => format!("{what} is used no more: take another one."),
    };
    let code = if kind == EquipmentKind::Hood { Code::HoodNotReady } else { Code::NebulizerOut };
    let refusal = Refusal::new(code, sentence).fact("state", state.as_str());
    Err(match ready_at {
        Some(ready_at) => refusal.fact("ready_at", ready_at),
        None => refusal,
    })
}
