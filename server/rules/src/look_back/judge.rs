//! What a run has to do with what is in doubt.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::contents::{How, Source};
use super::run::Run;
use super::subject::{Span, Subject, Whereabouts};
use crate::text_enum::text_enum;

text_enum! {
    /// How surely a run stands on what is in doubt. The later one is the worse one.
    pub enum Certainty {
        /// It does not, by the record.
        NotAffected = "not_affected",
        /// The record does not rule it out.
        Possibly = "possibly",
        /// It does, by the record.
        Surely = "surely",
    }
}

text_enum! {
    /// Why a run is counted where it is.
    pub enum Reason {
        /// It was made with it.
        OwnFill = "own_fill",
        /// It stands on a screening that was made with it.
        ScreeningFill = "screening_fill",
        /// Its nebulizer was filled up on top of it.
        ToppedUp = "topped_up",
        /// It was poured into its nebulizer by mistake, and no rinse is recorded in between.
        MixedUp = "mixed_up",
        /// Its solution was made from it.
        MadeFrom = "made_from",
        /// A facepiece of it was worn.
        Facepiece = "facepiece",
        /// It was run under this hood.
        Hood = "hood",
        /// It was run with this nebulizer.
        Nebulizer = "nebulizer",
        /// This tester ran it.
        Tester = "tester",
        /// It was run at this station at that time.
        Station = "station",
        /// It lies in a time for which nobody knows what the station sprayed, and it may have been this.
        FillUnknown = "fill_unknown",
        /// Its nebulizer held it before and no rinse is recorded in between.
        Residue = "residue",
        /// Liquid of its nebulizer was poured into one that held it, and no rinse is recorded in between.
        MayBeMixedUp = "may_be_mixed_up",
        /// No lot of the facepiece is named, and this one was there.
        FacepieceUnknown = "facepiece_unknown",
        /// No hood is named, and this one was there.
        HoodUnknown = "hood_unknown",
        /// Nothing was sprayed: it was measured.
        NothingSprayed = "nothing_sprayed",
        /// It was made with another lot.
        OtherLot = "other_lot",
        /// It was made with another bottle.
        OtherBottle = "other_bottle",
        /// It was made with another filling.
        OtherFill = "other_fill",
        /// It was run with another nebulizer or hood.
        OtherEquipment = "other_equipment",
        /// A facepiece of another lot was worn, or none.
        OtherFacepiece = "other_facepiece",
        /// Somebody else ran it.
        OtherTester = "other_tester",
        /// It was run at another station.
        OtherStation = "other_station",
        /// It was run at another time.
        OtherTime = "other_time",
    }
}

impl Reason {
    /// How surely a run is affected for this reason.
    pub const fn certainty(self) -> Certainty {
        match self {
            Self::OwnFill
            | Self::ScreeningFill
            | Self::ToppedUp
            | Self::MixedUp
            | Self::MadeFrom
            | Self::Facepiece
            | Self::Hood
            | Self::Nebulizer
            | Self::Tester
            | Self::Station => Certainty::Surely,
            Self::FillUnknown
            | Self::Residue
            | Self::MayBeMixedUp
            | Self::FacepieceUnknown
            | Self::HoodUnknown => Certainty::Possibly,
            Self::NothingSprayed
            | Self::OtherLot
            | Self::OtherBottle
            | Self::OtherFill
            | Self::OtherEquipment
            | Self::OtherFacepiece
            | Self::OtherTester
            | Self::OtherStation
            | Self::OtherTime => Certainty::NotAffected,
        }
    }
}

/// What a run has to do with what is in doubt, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Verdict {
    /// How surely.
    pub certainty: Certainty,
    /// Why, in a fixed order. Where any reason affects the run, only those that do.
    pub reasons: Vec<Reason>,
}

impl Verdict {
    fn of(mut reasons: Vec<Reason>) -> Self {
        let certainty = reasons.iter().map(|reason| reason.certainty()).max();
        let certainty = certainty.unwrap_or(Certainty::NotAffected);
        if certainty > Certainty::NotAffected {
            reasons.retain(|reason| reason.certainty() > Certainty::NotAffected);
        }
        reasons.sort_unstable();
        reasons.dedup();
        Self { certainty, reasons }
    }
}

/// What a screening, or an attempt that stands on none, has to do with what is in doubt.
pub fn judge(subjects: &[Subject], run: &Run<'_>) -> Verdict {
    Verdict::of(subjects.iter().flat_map(|subject| subject.reasons(run)).collect())
}

/// As [`judge`], for an attempt with the screening it stands on: a level that is in doubt puts every dose in doubt.
pub fn judge_attempt(subjects: &[Subject], attempt: &Run<'_>, screening: Option<&Run<'_>>) -> Verdict {
    let own = subjects.iter().flat_map(|subject| subject.reasons(attempt));
    let screened = screening.map(|run| judge(subjects, run).reasons).unwrap_or_default();
    let screened = screened.into_iter().filter(|reason| reason.certainty() > Certainty::NotAffected);
    let through =
        screened.map(|reason| if reason == Reason::OwnFill { Reason::ScreeningFill } else { reason });
    Verdict::of(own.chain(through).collect())
}

impl Subject {
    /// Why the run is counted where it is: at least one reason.
    fn reasons(&self, run: &Run<'_>) -> Vec<Reason> {
        match self {
            Self::Lot { id, .. } => self.liquid(run, |source| source.lot == *id, Reason::OtherLot),
            Self::Bottle { id, .. } => self.liquid(run, |source| source.bottle == *id, Reason::OtherBottle),
            Self::Fill { .. } => self.liquid(run, |_| true, Reason::OtherFill),
            Self::Nebulizer { span, .. } => self.nebulizer(run, *span),
            Self::Hood { id, span, whereabouts } => vec![hood(run, *id, *span, whereabouts)],
            Self::Facepieces { lot, respirator, since } => vec![facepiece(run, *lot, *respirator, *since)],
            Self::Tester { id, .. } if run.tester != *id => vec![Reason::OtherTester],
            Self::Tester { span, .. } => vec![at_time(run, *span, Reason::Tester)],
            Self::Station { id, .. } if run.station != *id => vec![Reason::OtherStation],
            Self::Station { span, .. } => vec![at_time(run, *span, Reason::Station)],
        }
    }

    /// Of a lot, a bottle or a filling; `is_it` knows its own source from those that the source was made from.
    fn liquid(&self, run: &Run<'_>, is_it: impl Fn(&Source) -> bool, other: Reason) -> Vec<Reason> {
        let Some(spray) = &run.spray else { return vec![Reason::NothingSprayed] };
        let came = spray.contents.iter().filter(|content| self.came_with(content));
        let came = came.map(|content| match content.how {
            How::Own if content.fill.sources.first().is_some_and(&is_it) => Reason::OwnFill,
            How::Own => Reason::MadeFrom,
            How::ToppedUp => Reason::ToppedUp,
            How::Poured => Reason::MixedUp,
            How::MayBePoured => Reason::MayBeMixedUp,
            How::Residue => Reason::Residue,
        });
        let liquid = (spray.agent, spray.solution);
        let in_gap = run.gaps().any(|gap| self.may_fill(run.station, gap, Some(liquid)));
        came.chain(in_gap.then_some(Reason::FillUnknown)).chain([other]).collect()
    }

    fn nebulizer(&self, run: &Run<'_>, span: Span) -> Vec<Reason> {
        let Some(spray) = run.spray.as_ref().filter(|spray| spray.agent.is_tasted()) else {
            return vec![Reason::NothingSprayed];
        };
        let liquid = (spray.agent, spray.solution);
        let in_gap = run.touches(span.from, span.until)
            && run.gaps().any(|gap| self.may_fill(run.station, gap, Some(liquid)));
        let used = self.is_among(&spray.contents);
        let used = if used { at_time(run, span, Reason::Nebulizer) } else { Reason::OtherEquipment };
        in_gap.then_some(Reason::FillUnknown).into_iter().chain([used]).collect()
    }
}

fn at_time(run: &Run<'_>, span: Span, reason: Reason) -> Reason {
    if run.touches(span.from, span.until) { reason } else { Reason::OtherTime }
}

/// Where no lot is named, any that had come by then can have been the one: pieces are taken from a cupboard, and which
/// stood where says little.
fn facepiece(run: &Run<'_>, lot: Uuid, respirator: Uuid, since: DateTime<Utc>) -> Reason {
    let Some(worn) = run.worn.filter(|worn| worn.respirator == respirator) else {
        return Reason::OtherFacepiece;
    };
    match worn.lot {
        Some(named) if named == lot => Reason::Facepiece,
        None if run.over_at() >= since => Reason::FacepieceUnknown,
        _ => Reason::OtherFacepiece,
    }
}

/// Where no hood is named, only one that was there can have been the one: otherwise every run of the site would be
/// in doubt.
fn hood(run: &Run<'_>, id: Uuid, span: Span, whereabouts: &Whereabouts) -> Reason {
    let under_hood = run.spray.as_ref().is_some_and(|spray| spray.agent.is_tasted());
    match run.hood {
        Some(hood) if hood == id => at_time(run, span, Reason::Hood),
        None if under_hood && whereabouts.was_at(run.station, run.began_at, run.over_at()) => {
            at_time(run, span, Reason::HoodUnknown)
        }
        _ => Reason::OtherEquipment,
    }
}
