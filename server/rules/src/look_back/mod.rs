//! Who stands on what is in doubt: which screenings and attempts used a lot, a bottle, a fill, a nebulizer, a hood or a
//! facepiece, or were run by a tester or at a station in a span of time; surely, possibly, or not.
//!
//! How the three are told apart is common practice and in no published text: what the record says was used, what may
//! have been used where the record has a gap, and the rest. A gap stays a gap: nothing is filled in by guessing.

mod contents;
mod judge;
mod run;
mod subject;

pub use contents::{Content, FillRecord, Fillings, How, MixUp, Rinse, Source};
pub use judge::{Certainty, Reason, Verdict, judge, judge_attempt};
pub use run::{Gap, RUN_LASTS_AT_MOST_SECONDS, Run, Spray, Worn};
pub use subject::{Bottle, Placed, Span, Subject, Whereabouts};
