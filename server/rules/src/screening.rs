//! The screening as a pure state machine. With a taste agent: sets of ten squeezes, at most three, and the level they
//! found. With an odour: the choice between two jars. With smoke: whether a weak puff is noticed.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::dates::{seconds_after, seconds_until};
use crate::level::Level;
use crate::refusal::{Code, Refusal};
use crate::ruleset::{RuleSet, ScreeningRules};
use crate::sequence::{Applied, Sequenced, next_seq, place};
use crate::supplies::Agent;
use crate::text_enum::text_enum;

text_enum! {
    /// How a screening ended.
    pub enum ScreeningOutcome {
        /// The agent was tasted; there is a level.
        Level = "level",
        /// The agent was not tasted in any set; it is closed for this person today.
        NotTasted = "not_tasted",
        /// The odour or the smoke was noticed.
        Noticed = "noticed",
        /// The odour or the smoke was not noticed.
        NotNoticed = "not_noticed",
        /// It counts for nothing.
        Void = "void",
        /// The person was unwell.
        Stopped = "stopped",
    }
}

text_enum! {
    /// Why a screening ended as it did.
    pub enum ScreeningReason {
        /// The agent was tasted.
        Tasted = "tasted",
        /// Every set was done and nothing was tasted.
        NotTasted = "not_tasted",
        /// The odour or the smoke was noticed.
        Noticed = "noticed",
        /// The odour or the smoke was not noticed.
        NotNoticed = "not_noticed",
        /// Plain water was said to taste of the agent, so the answers say nothing.
        PlainWaterTasted = "plain_water_tasted",
        /// It was interrupted.
        Interrupted = "interrupted",
        /// The nebulizer did not spray.
        NebulizerClogged = "nebulizer_clogged",
        /// The person was unwell.
        Unwell = "unwell",
    }
}

/// What happened in a screening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ScreeningEventKind {
    /// The procedure was explained.
    Explained,
    /// A set of squeezes was done and the person was asked.
    SetDone {
        /// Whether the agent was tasted.
        tasted: bool,
        /// Squeezes given in this set: up to the taste, or all of the set.
        squeezes: u8,
    },
    /// Plain water was sprayed and the person was asked.
    PlainWaterTried {
        /// Whether the agent was said to be tasted.
        tasted: bool,
    },
    /// The person smelled at both jars and named one.
    JarChosen {
        /// Whether it was the one with the odour.
        right: bool,
    },
    /// A weak puff of smoke was led past the person.
    SmokeTried {
        /// Whether it was noticed.
        noticed: bool,
    },
    /// The nebulizer was looked at.
    NebulizerChecked {
        /// Whether it sprays.
        clear: bool,
    },
    /// The screening was interrupted.
    Interrupted,
    /// The person is unwell.
    Unwell,
}

/// One event of a screening.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ScreeningEvent {
    /// Its number, from 1.
    pub seq: u32,
    /// When it happened.
    pub happened_at: DateTime<Utc>,
    /// What happened.
    #[serde(flatten)]
    pub kind: ScreeningEventKind,
}

impl Sequenced for ScreeningEvent {
    fn seq(&self) -> u32 {
        self.seq
    }

    fn happened_at(&self) -> DateTime<Utc> {
        self.happened_at
    }
}

/// What a screening starts from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScreeningSetup {
    /// The agent.
    pub agent: Agent,
    /// The last food, drink other than plain water, smoke or gum; none when there was none worth asking about.
    pub last_intake_at: Option<DateTime<Utc>>,
    /// The values of the rule set that govern it.
    pub rules: ScreeningRules,
}

impl ScreeningSetup {
    /// A setup under `rules`.
    pub fn new(rules: &RuleSet, agent: Agent, last_intake_at: Option<DateTime<Utc>>) -> Self {
        Self { agent, last_intake_at, rules: rules.screening.clone() }
    }
}

/// How a screening ended, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ScreeningVerdict {
    /// How it ended.
    pub outcome: ScreeningOutcome,
    /// Why.
    pub reason: ScreeningReason,
    /// The level, when there is one.
    pub level: Option<Level>,
    /// Squeezes given in all; the exact count of the taste when there is a level.
    pub squeezes: u8,
    /// When it ended.
    pub ended_at: DateTime<Utc>,
}

/// A screening as far as its events tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScreeningState {
    setup: ScreeningSetup,
    log: Vec<ScreeningEvent>,
    progress: Progress,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Progress {
    explained: bool,
    plain_water_tried: bool,
    sets_done: u8,
    squeezes: u8,
    verdict: Option<ScreeningVerdict>,
}

impl ScreeningState {
    /// A screening before its first event.
    pub fn new(setup: ScreeningSetup) -> Self {
        Self { setup, log: Vec::new(), progress: Progress::default() }
    }

    /// How it ended, once it has.
    pub fn verdict(&self) -> Option<ScreeningVerdict> {
        self.progress.verdict
    }

    /// The number of the event that ended it, once it has ended: nothing follows that.
    pub fn ended_by(&self) -> Option<u32> {
        self.verdict().and(self.log.last()).map(|event| event.seq)
    }

    /// The number of the next event.
    pub fn next_seq(&self) -> u32 {
        next_seq(&self.log)
    }

    /// Sets done so far.
    pub fn sets_done(&self) -> u8 {
        self.progress.sets_done
    }

    /// The events accepted so far.
    pub fn events(&self) -> &[ScreeningEvent] {
        &self.log
    }

    /// Takes one event. On a refusal nothing has changed.
    pub fn apply(&mut self, event: &ScreeningEvent) -> Result<Applied, Refusal> {
        if place(&self.log, event)? == Applied::Repeat {
            return Ok(Applied::Repeat);
        }
        self.progress = self.progress.next(&self.setup, event)?;
        self.log.push(event.clone());
        Ok(Applied::New)
    }
}

/// The state after all events, or the index of the first one refused and why.
pub fn replay(setup: ScreeningSetup, events: &[ScreeningEvent]) -> Result<ScreeningState, (usize, Refusal)> {
    let mut state = ScreeningState::new(setup);
    for (index, event) in events.iter().enumerate() {
        state.apply(event).map_err(|refusal| (index, refusal))?;
    }
    Ok(state)
}

/// Whether the no-intake time is over at `at`; plain water never counts as intake.
///
/// 29 CFR 1910.134 App. A I.B.3(b)(1) and B.4(b)(1).
pub fn intake_over(
    last_intake_at: Option<DateTime<Utc>>,
    wait_seconds: u32,
    at: DateTime<Utc>,
) -> Result<(), Refusal> {
    let Some(earliest) = last_intake_at.map(|intake| seconds_after(intake, wait_seconds)) else {
        return Ok(());
    };
    if at >= earliest {
        return Ok(());
    }
    let detail =
        "Too soon after eating, drinking, smoking or chewing gum: only plain water until the time given.";
    let refusal = Refusal::new(Code::IntakeTooRecent, detail).fact("earliest_start", earliest);
    Err(refusal.fact("seconds_remaining", seconds_until(at, earliest)))
}

impl Progress {
    fn next(self, setup: &ScreeningSetup, event: &ScreeningEvent) -> Result<Self, Refusal> {
        if self.verdict.is_some() {
            return Err(Refusal::new(
                Code::ScreeningEnded,
                "This screening has ended: start a new one if needed.",
            ));
        }
        match event.kind {
            ScreeningEventKind::Explained => Ok(Self { explained: true, ..self }),
            ScreeningEventKind::SetDone { tasted, squeezes } => {
                self.set_done(setup, event.happened_at, tasted, squeezes)
            }
            ScreeningEventKind::PlainWaterTried { tasted } if setup.agent.is_tasted() => {
                self.plain_water_tried(tasted, event.happened_at)
            }
            ScreeningEventKind::JarChosen { right } if setup.agent == Agent::IsoamylAcetate => {
                self.noticing(right, event.happened_at)
            }
            ScreeningEventKind::SmokeTried { noticed } if setup.agent == Agent::IrritantSmoke => {
                self.noticing(noticed, event.happened_at)
            }
            ScreeningEventKind::PlainWaterTried { .. }
            | ScreeningEventKind::JarChosen { .. }
            | ScreeningEventKind::SmokeTried { .. } => Err(not_with(setup.agent)),
            ScreeningEventKind::NebulizerChecked { clear: true } => Ok(self),
            ScreeningEventKind::NebulizerChecked { clear: false } => Ok(self.ended(
                ScreeningOutcome::Void,
                ScreeningReason::NebulizerClogged,
                None,
                event.happened_at,
            )),
            ScreeningEventKind::Interrupted => {
                Ok(self.ended(ScreeningOutcome::Void, ScreeningReason::Interrupted, None, event.happened_at))
            }
            ScreeningEventKind::Unwell => {
                Ok(self.ended(ScreeningOutcome::Stopped, ScreeningReason::Unwell, None, event.happened_at))
            }
        }
    }

    fn is_explained(&self) -> Result<(), Refusal> {
        if self.explained {
            return Ok(());
        }
        let detail = "Explain the procedure first, then record that it was explained.";
        Err(Refusal::new(Code::ExplainFirst, detail))
    }

    /// Somebody who tastes the agent in plain water cannot be screened by asking.
    fn plain_water_tried(self, tasted: bool, at: DateTime<Utc>) -> Result<Self, Refusal> {
        self.is_explained()?;
        let tried = Self { plain_water_tried: true, ..self };
        if !tasted {
            return Ok(tried);
        }
        Ok(tried.ended(ScreeningOutcome::Void, ScreeningReason::PlainWaterTasted, None, at))
    }

    /// 29 CFR 1910.134 App. A I.B.2(a)(10)-(11) for the jars, I.B.5(b)(3) for the smoke.
    fn noticing(self, noticed: bool, at: DateTime<Utc>) -> Result<Self, Refusal> {
        self.is_explained()?;
        let (outcome, reason) = if noticed {
            (ScreeningOutcome::Noticed, ScreeningReason::Noticed)
        } else {
            (ScreeningOutcome::NotNoticed, ScreeningReason::NotNoticed)
        };
        Ok(self.ended(outcome, reason, None, at))
    }

    fn set_done(
        self,
        setup: &ScreeningSetup,
        at: DateTime<Utc>,
        tasted: bool,
        squeezes: u8,
    ) -> Result<Self, Refusal> {
        let rules = &setup.rules;
        if !setup.agent.is_tasted() {
            return Err(not_with(setup.agent));
        }
        self.is_explained()?;
        if rules.plain_water_check && !self.plain_water_tried {
            let detail = "Spray plain water first and ask: this day's rule set wants that check.";
            return Err(Refusal::new(Code::PlainWaterFirst, detail));
        }
        intake_over(setup.last_intake_at, rules.no_intake_seconds, at)?;
        let fits = if tasted {
            (1..=rules.set_squeezes).contains(&squeezes)
        } else {
            squeezes == rules.set_squeezes
        };
        if !fits {
            let detail = format!(
                "A set has {} squeezes: give all of them, or the number at which the taste came.",
                rules.set_squeezes
            );
            return Err(Refusal::new(Code::InvalidValue, detail).field("squeezes"));
        }
        let done = Self {
            sets_done: self.sets_done.saturating_add(1),
            squeezes: self.squeezes.saturating_add(squeezes),
            ..self
        };
        let level = Level::ALL.get(usize::from(self.sets_done)).copied();
        Ok(match level {
            Some(level) if tasted => {
                done.ended(ScreeningOutcome::Level, ScreeningReason::Tasted, Some(level), at)
            }
            Some(_) if done.sets_done < rules.sets => done,
            _ => done.ended(ScreeningOutcome::NotTasted, ScreeningReason::NotTasted, None, at),
        })
    }

    fn ended(
        self,
        outcome: ScreeningOutcome,
        reason: ScreeningReason,
        level: Option<Level>,
        ended_at: DateTime<Utc>,
    ) -> Self {
        let verdict = ScreeningVerdict { outcome, reason, level, squeezes: self.squeezes, ended_at };
        Self { verdict: Some(verdict), ..self }
    }
}

/// The refusal of a step that belongs to another agent.
fn not_with(agent: Agent) -> Refusal {
    let detail = format!("This step does not belong to a screening with {}.", agent.name());
    Refusal::new(Code::EventNotNow, detail)
}
