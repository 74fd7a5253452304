//! The transitions of an attempt.

use chrono::{DateTime, Utc};

use super::event::AttemptEvent;
use super::setup::AttemptSetup;
use super::state::{Missing, NextDose, Phase};
use super::verdict::Verdict;
use crate::refusal::Refusal;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Progress {
    pub(super) donned_at: Option<DateTime<Utc>>,
    pub(super) running: Option<(u8, DateTime<Utc>)>,
    pub(super) verdict: Option<Verdict>,
    pub(super) signed_at: Option<DateTime<Utc>>,
}

impl Progress {
    pub(super) fn phase(&self, _setup: &AttemptSetup) -> Phase {
        Phase::Fitting
    }
    pub(super) fn next_dose(&self, _setup: &AttemptSetup) -> Option<NextDose> {
        None
    }
    pub(super) fn next_exercise(&self, _setup: &AttemptSetup) -> Option<u8> {
        None
    }
    pub(super) fn missing(&self, _setup: &AttemptSetup) -> Vec<Missing> {
        Vec::new()
    }
    pub(super) fn next(self, _setup: &AttemptSetup, _event: &AttemptEvent) -> Result<Self, Refusal> {
        Ok(self)
    }
}
