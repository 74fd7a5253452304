//! Refusals: the one list of stable codes, and the value that carries a code with a sentence and its facts.

use std::collections::BTreeMap;
use std::fmt;

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::reading_file::Problem;
use crate::roster::LineProblem;
use crate::ruleset::Mistake;
use crate::text_enum::text_enum;

macro_rules! codes {
    ($($variant:ident $text:literal $meaning:literal;)+) => {
        text_enum! {
            /// Every code a refusal may carry. A code never changes its meaning and is never used again for another.
            pub enum Code { $( #[doc = $meaning] $variant = $text ),+ }
        }

        impl Code {
            /// What the code means, in one sentence for the documentation.
            pub const fn meaning(self) -> &'static str {
                match self { $(Self::$variant => $meaning),+ }
            }
        }
    };
}

codes! {
    // The request itself.
    BadJson "bad_json" "The body is not JSON of the expected shape.";
    WrongContentType "wrong_content_type" "The body must be sent with the content type the operation names.";
    BodyTooLarge "body_too_large" "The body is larger than this operation accepts.";
    UnknownPath "unknown_path" "No operation lives at this path.";
    MethodNotAllowed "method_not_allowed" "The path exists but not with this method.";
    InvalidValue "invalid_value" "A member, parameter or header holds a value that is not allowed there.";
    InvalidCursor "invalid_cursor" "The cursor of a list was not made by this server or belongs to another list.";
    // Who is asking.
    NotSignedIn "not_signed_in" "The operation needs a session or a device token and none was sent.";
    SessionEnded "session_ended" "The session or token has ended, was revoked, or is unknown.";
    WrongRole "wrong_role" "The caller is known but none of their roles may do this.";
    SignInRefused "sign_in_refused" "The user name and password do not belong together, or the account is closed.";
    SignInThrottled "sign_in_throttled" "Too many failed sign-ins for this account or address; wait and try again.";
    TlsRequired "tls_required" "This address only leads on to the encrypted one and takes no requests itself.";
    // The stored state.
    NotFound "not_found" "There is no such thing at this site, or it is not the caller's to know.";
    IdReused "id_reused" "This id is already stored with different content.";
    AlreadyExists "already_exists" "Something with the same identifying value is already stored.";
    StaleVersion "stale_version" "The stored row changed since the caller read it; read it again first.";
    HappenedInFuture "happened_in_future" "The time of the event lies in the future of the server's clock.";
    StillInUse "still_in_use" "Something else still depends on this, so it cannot be ended or changed.";
    StationClosed "station_closed" "The station is closed and calls nobody.";
    DayClosed "day_closed" "The fit-testing day is closed and takes no new visits or runs.";
    // The server.
    Busy "busy" "The server is at its limit; try again after the time given.";
    DatabaseUnavailable "database_unavailable" "The database cannot be reached just now; nothing was stored.";
    StreamsFull "streams_full" "This server holds as many live streams as it may; wait, or read without one.";
    Internal "internal" "Something went wrong in the server; the request id finds it in the log.";
    // Rule sets.
    RuleSetInvalid "rule_set_invalid" "The text of the rule set has mistakes; nothing was stored.";
    RuleSetOpen "rule_set_open" "Values of the rule set still have to be confirmed by a named person.";
    // The roster.
    RosterNotText "roster_not_text" "The roster file is not UTF-8 text.";
    RosterLineInvalid "roster_line_invalid" "At least one line of the roster cannot be taken; nothing was stored.";
    RosterColumnMissing "roster_column_missing" "A column the roster needs is neither there nor mapped.";
    // Sequences of events.
    EventOutOfOrder "event_out_of_order" "An event is missing before this one; send the expected number first.";
    EventConflict "event_conflict" "Another event is already stored under this number.";
    EventBeforePrevious "event_before_previous" "An event cannot have happened before the one stored before it.";
    EventNotNow "event_not_now" "This event does not belong to the present phase.";
    // Check-in and permission.
    PermissionMissing "permission_missing" "No decision in force permits this person to wear a respirator.";
    HairAtSeal "hair_at_seal" "Hair crosses the sealing surface, so no test is conducted.";
    IntakeTooRecent "intake_too_recent" "Food, drink other than plain water, smoke or gum was too short a time ago.";
    VisitNotOpen "visit_not_open" "The visit has ended or is not checked in.";
    NobodyReady "nobody_ready" "Nobody in the queue is ready for this station.";
    // Screening.
    ExplainFirst "explain_first" "The procedure has to be explained before the screening.";
    PlainWaterFirst "plain_water_first" "The rule set of the day wants plain water to be tried before the first set.";
    ScreeningEnded "screening_ended" "The screening has ended and takes no more events.";
    ScreeningOpen "screening_open" "A screening of this visit is still open.";
    AgentClosedToday "agent_closed_today" "This agent was not tasted in a full screening today.";
    AgentSwitchWait "agent_switch_wait" "The wait after the other agent is not over.";
    WaitAfterFail "wait_after_fail" "The wait after a fail is not over.";
    // Attempt, fitting.
    MustBeDonnedByWearer "must_be_donned_by_wearer" "The wearer has to put the respirator on without help.";
    DonnedBeforeScreening "donned_before_screening" "The respirator has to be put on after the screening ended.";
    AlreadyDonned "already_donned" "The respirator is already on; record first that it was taken off.";
    NotDonned "not_donned" "The respirator is not on.";
    WearTimeShort "wear_time_short" "The respirator has not been worn long enough before the test.";
    SealCheckMissing "seal_check_missing" "No good seal check since the respirator was last put on or adjusted.";
    RedonFirst "redon_first" "After a failed seal check the respirator has to be taken off and put on again.";
    NotReady "not_ready" "The hood is not on, or the taste of the screening is not gone.";
    // Measuring.
    ReadingFileInvalid "reading_file_invalid" "The file of readings cannot be read so; nothing was stored.";
    ImplausibleValue "implausible_value" "The value is hardly possible: read it off again and send it with what was typed first.";
    NegativePressureModeRequired "negative_pressure_mode_required" "A respirator with its own air is tested in negative-pressure mode only.";
    FilterNotSuitable "filter_not_suitable" "The filter does not suit this method.";
    // Attempt, testing and closing.
    WrongDose "wrong_dose" "The number of squeezes is not the number due.";
    DoseTooEarly "dose_too_early" "The next dose is not due yet.";
    DoseDue "dose_due" "A dose is still due and has to be given first.";
    ExerciseOutOfOrder "exercise_out_of_order" "The exercises run in the order of the rule set, one at a time.";
    ExerciseTooShort "exercise_too_short" "The exercise has not run for its full length.";
    ClosingIncomplete "closing_incomplete" "Something is missing before a pass can be signed.";
    AttemptEnded "attempt_ended" "The attempt has ended; only one signature may follow.";
    AttemptOpen "attempt_open" "An attempt of this visit is still open.";
    // Ladder.
    NewScreeningRequired "new_screening_required" "A screening that found a level is needed, on the same day and since the last fail.";
    DifferentRespiratorRequired "different_respirator_required" "This respirator failed today or could not be worn: a different one is needed.";
    ReferredToday "referred_today" "The last step of today's ladder is used; a referral is needed.";
    StoppedNeedsClinician "stopped_needs_clinician" "After a stopped run a newer permission is needed first.";
    TestMethodNotAllowed "test_method_not_allowed" "This kind of test cannot clear this respirator for its use.";
    // Supplies.
    LotStopped "lot_stopped" "The lot is stopped and must not be used.";
    Stopped "stopped" "The bottle, the fill, the nebulizer or the hood is stopped and must not be used.";
    StopReleased "stop_released" "The stop was released before: nothing is left to release.";
    BottleExpired "bottle_expired" "The printed expiry of the bottle has passed.";
    BottleNotOpened "bottle_not_opened" "The bottle has no opening date, so it cannot be used.";
    OpenedLifeOver "opened_life_over" "The bottle has been open for longer than its opened life.";
    FillMissing "fill_missing" "The station has no fill of the right agent and solution.";
    FillTooOld "fill_too_old" "The fill is older than its life; rinse and refill the nebulizer.";
    FillWrongAgent "fill_wrong_agent" "The fill holds another agent.";
    FillWrongSolution "fill_wrong_solution" "The fill holds the other solution.";
    FillOnTop "fill_on_top" "The nebulizer still holds a rest: empty and rinse it first.";
    BottleEmpty "bottle_empty" "By the books the bottle does not hold that much; count it, or take another one.";
    NebulizerOut "nebulizer_out" "The nebulizer is out of use until it was mended.";
    HoodNotReady "hood_not_ready" "The hood is not ready for the next person.";
    FirstExpiredFirst "first_expired_first" "Something alike at the same place ends earlier; an exception needs a reason.";
    MovedMeanwhile "moved_meanwhile" "It is no longer where the caller believes it to be.";
    BottleElsewhere "bottle_elsewhere" "By the books the bottle is at another place: bring it here first, by hand-over or issue.";
    NebulizerUnknown "nebulizer_unknown" "No nebulizer of this label is registered; the facts say which label may be meant.";
    ExpiryAmbiguous "expiry_ambiguous" "Day and month of the printed expiry can be taken for each other: type the one that is meant.";
    LabelUnreadable "label_unreadable" "The label cannot be read; the facts say where and what is wrong there.";
    // Badges and gates.
    NotCleared "not_cleared" "The person has no clearance that could be printed.";
    BadgeAlreadyEnded "badge_already_ended" "The badge has already ended.";
    BadgeHeld "badge_held" "The badge is held while something is being looked into.";
    BadgeOutdated "badge_outdated" "What the badge says has changed since it was made, so it is neither printed nor handed over.";
    BadgeHandedOver "badge_handed_over" "The badge was handed to its person before.";
    BadgeOfAnother "badge_of_another" "The badge belongs to another person than the one named.";
    NoBadge "no_badge" "The person has no badge that counts.";
    NoBadgeDue "no_badge_due" "Nobody of this day is ready and without a badge that says what holds, or their badges are being made.";
    BatchRunning "batch_running" "The badges of this batch are still being made.";
    HoldReleased "hold_released" "The hold was released before: nothing is left to release.";
    NoGlyph "no_glyph" "A letter of the name is in none of the fonts at hand.";
    AlreadyReviewed "already_reviewed" "Somebody has looked at this already.";
    AlreadyCorrected "already_corrected" "The record has already been corrected.";
}

/// An extra machine-readable member of a refusal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(untagged)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum FactValue {
    /// A word or a sentence.
    Text(String),
    /// A whole number, with its unit in the member's name.
    Number(i64),
    /// A moment.
    Time(DateTime<Utc>),
    /// Lines of a file, each with what is wrong with it.
    Lines(Vec<LineProblem>),
    /// Places of a file of readings, each with what is wrong there.
    Problems(Vec<Problem>),
    /// Places of a rule set's text, each with what is wrong there.
    Mistakes(Vec<Mistake>),
}

macro_rules! fact_from {
    ($($from:ty => $variant:ident $(via $into:ty)?;)+) => {
        $(impl From<$from> for FactValue {
            fn from(value: $from) -> Self {
                Self::$variant($(<$into>::from)?(value))
            }
        })+
    };
}

fact_from! {
    String => Text;
    &str => Text via String;
    i64 => Number;
    i32 => Number via i64;
    u32 => Number via i64;
    u8 => Number via i64;
    DateTime<Utc> => Time;
    Vec<LineProblem> => Lines;
    Vec<Problem> => Problems;
    Vec<Mistake> => Mistakes;
}

/// Why something was not done: a stable code, one sentence that says what to do, and facts for programs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// The stable code.
    pub code: Code,
    /// One sentence for a person, saying what to do.
    pub detail: String,
    /// The member or parameter of the request that is meant, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// Extra members such as `seconds_remaining`, `expected_seq` or `earliest_start`.
    #[serde(flatten)]
    pub facts: BTreeMap<&'static str, FactValue>,
}

impl Refusal {
    /// A refusal with a code and its sentence.
    pub fn new(code: Code, detail: impl Into<String>) -> Self {
        Self { code, detail: detail.into(), field: None, facts: BTreeMap::new() }
    }

    /// Names the member of the request that is meant.
    #[must_use]
    pub fn field(mut self, field: impl Into<String>) -> Self {
        self.field = Some(field.into());
        self
    }

    /// Adds a machine-readable member.
    #[must_use]
    pub fn fact(mut self, name: &'static str, value: impl Into<FactValue>) -> Self {
        self.facts.insert(name, value.into());
        self
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.code, self.detail)
    }
}

impl std::error::Error for Refusal {}
