//! What a gate accepts: dated versions of its policy, and what each comes to at a moment.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::{
    filter::FilterClass,
    gate::GatePolicy,
    refusal::{Code, Refusal},
    respirator::Facepiece,
    text_enum::text_enum,
};

/// More than one gate has ever had in use; a longer list is a mistake.
pub const ACCEPTS_MAX: usize = 100;
/// Ten days: a gate whose knowledge is older than that is not checked at all.
pub const KNOWLEDGE_AGE_MAX_SECONDS: u32 = 864_000;
/// More names than a lead's list is read through for at a gate.
pub const LEADS_MAX: usize = 50;

/// A respirator as the site's list has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Listed {
    /// The respirator.
    pub respirator: Uuid,
    /// What it covers.
    pub facepiece: Facepiece,
    /// Its filter class, in the words of the list.
    pub filter_class: String,
    /// When the site stopped using it.
    pub retired_at: Option<DateTime<Utc>>,
}

/// Any respirator of a kind: at least one of the two is said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RespiratorClass {
    /// What it covers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub facepiece: Option<Facepiece>,
    /// Its filter class, as the respirators of the site have it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "openapi", schema(example = "N95"))]
    pub filter_class: Option<String>,
}

impl RespiratorClass {
    /// Whether a listed respirator is of this class and in use at a moment.
    ///
    /// A respirator marked `P100/OV` is of the classes P100 and OV. A better filter is another class: whoever accepts
    /// it too says so.
    pub fn includes(&self, listed: &Listed, at: DateTime<Utc>) -> bool {
        let of_class = |wanted: &String| {
            let marked = words(&listed.filter_class);
            words(wanted).iter().all(|word| marked.contains(word))
        };
        listed.retired_at.is_none_or(|retired| at < retired)
            && self.facepiece.is_none_or(|facepiece| facepiece == listed.facepiece)
            && self.filter_class.as_ref().is_none_or(of_class)
    }

    /// The filter class, where no published class and no respirator of the site has it: most likely a slip of the pen.
    pub fn unknown<'c>(&'c self, site: &[Listed]) -> Option<&'c str> {
        let known = |word: &String| {
            word.parse::<FilterClass>().is_ok()
                || site.iter().any(|listed| words(&listed.filter_class).contains(word))
        };
        let class = self.filter_class.as_deref()?;
        let said = words(class);
        (said.is_empty() || !said.iter().all(known)).then_some(class)
    }
}

/// The words of a filter class, in small letters.
fn words(class: &str) -> Vec<String> {
    let words = class.split(|letter: char| !letter.is_alphanumeric());
    words.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// What one line of a policy accepts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Accepted {
    /// One respirator.
    Respirator {
        /// The respirator.
        respirator_id: Uuid,
    },
    /// Any of a class, those listed later too.
    Class(RespiratorClass),
}

/// One line of a policy. With an end it is one half of a period in which two models are accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Acceptance {
    /// What is accepted: a respirator, or any of a class.
    #[serde(flatten)]
    pub accepted: Accepted,
    /// Until when; none as long as the policy is in force.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<DateTime<Utc>>,
}

/// One dated version of a gate's policy. It is in force until a later one is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PolicyVersion {
    /// Its id.
    pub id: Uuid,
    /// From when on.
    pub effective_from: DateTime<Utc>,
    /// When it was stored: of two for the same moment the one stored later counts.
    pub recorded_at: DateTime<Utc>,
    /// What is used here, the preferred one first.
    pub accepts: Vec<Acceptance>,
    /// Whether nobody needs a respirator here.
    pub none_needed: bool,
    /// Until when nobody does; none as long as the policy is in force.
    pub none_needed_until: Option<DateTime<Utc>>,
    /// The greatest age of knowledge, in seconds, on which the gate may still let somebody in.
    pub knowledge_age_max_seconds: u32,
    /// What to do when nobody can tell, in the site's own words.
    pub fallback: String,
    /// The names under which somebody may be let in: none where nobody may be, an empty list where any name will do.
    pub leads: Option<Vec<String>>,
}

text_enum! {
    /// Where a version stands among those of its gate.
    pub enum PolicyStanding {
        /// Another one took its place, or will before it begins.
        Past = "past",
        /// In force.
        Present = "present",
        /// Known ahead.
        Coming = "coming",
    }
}

impl PolicyVersion {
    /// What the version comes to at a moment, given the respirators that bear on it: all of the site, or only those of
    /// the person at the gate. None where nothing of it holds any more.
    pub fn at(&self, at: DateTime<Utc>, listed: &[Listed]) -> Option<GatePolicy> {
        let none_needed = self.needs_none(at);
        let open = || self.accepts.iter().filter(|line| line.until.is_none_or(|until| at < until));
        if !none_needed && open().next().is_none() {
            return None;
        }
        let mut accepted_respirators = Vec::new();
        for line in open() {
            match &line.accepted {
                Accepted::Respirator { respirator_id } => accepted_respirators.push(*respirator_id),
                Accepted::Class(class) => {
                    let of_class = listed.iter().filter(|listed| class.includes(listed, at));
                    accepted_respirators.extend(of_class.map(|listed| listed.respirator));
                }
            }
        }
        // Named and of a class, or of two classes: the first place counts.
        let mut seen = std::collections::HashSet::new();
        accepted_respirators.retain(|respirator| seen.insert(*respirator));
        Some(GatePolicy {
            accepted_respirators,
            none_needed,
            max_knowledge_age_seconds: self.knowledge_age_max_seconds,
            fallback: self.fallback.clone(),
        })
    }

    /// Whether nobody needs a respirator at a moment.
    pub fn needs_none(&self, at: DateTime<Utc>) -> bool {
        self.none_needed && self.none_needed_until.is_none_or(|until| at < until)
    }

    fn rank(&self) -> (DateTime<Utc>, DateTime<Utc>, Uuid) {
        (self.effective_from, self.recorded_at, self.id)
    }

    /// Whether the version, decided at a moment, says something that can be meant.
    ///
    /// # Errors
    /// `invalid_value` with the member that cannot be meant.
    pub fn check(&self, decided_at: DateTime<Utc>) -> Result<(), Refusal> {
        if self.effective_from < decided_at {
            let sentence = "A policy begins at the moment of its decision or later: nobody was at the gate under it before.";
            return Err(refused("effective_from", sentence).fact("happened_at", decided_at));
        }
        if !(1..=KNOWLEDGE_AGE_MAX_SECONDS).contains(&self.knowledge_age_max_seconds) {
            let sentence =
                format!("The age of knowledge lies between 1 and {KNOWLEDGE_AGE_MAX_SECONDS} seconds.");
            return Err(refused("knowledge_age_max_seconds", sentence));
        }
        self.check_none_needed()?;
        self.check_accepts()?;
        self.check_leads()
    }

    fn check_none_needed(&self) -> Result<(), Refusal> {
        let Some(until) = self.none_needed_until else { return Ok(()) };
        if !self.none_needed {
            let sentence =
                "An end is given only where no respirator is needed: set none_needed, or leave it out.";
            return Err(refused("none_needed_until", sentence));
        }
        if until <= self.effective_from {
            return Err(refused("none_needed_until", "This end lies before the beginning of the policy."));
        }
        if self.accepts.is_empty() {
            let sentence = "Name what is used here once a respirator is needed again.";
            return Err(refused("accepts", sentence));
        }
        Ok(())
    }

    fn check_accepts(&self) -> Result<(), Refusal> {
        if self.accepts.is_empty() && !self.none_needed {
            let sentence = "Name the respirators used here, or say that none is needed.";
            return Err(refused("accepts", sentence));
        }
        if self.accepts.len() > ACCEPTS_MAX {
            return Err(refused("accepts", format!("A policy accepts {ACCEPTS_MAX} things at most.")));
        }
        for (place, line) in self.accepts.iter().enumerate() {
            let field = |member: &str| format!("accepts[{place}].{member}");
            if let Accepted::Class(RespiratorClass { facepiece: None, filter_class: None }) = line.accepted {
                let sentence = "Name a respirator, or the facepiece or the filter class of those accepted.";
                return Err(refused(format!("accepts[{place}]"), sentence));
            }
            if line.until.is_some_and(|until| until <= self.effective_from) {
                return Err(refused(field("until"), "This end lies before the beginning of the policy."));
            }
            if self.accepts.iter().take(place).any(|before| before.accepted == line.accepted) {
                return Err(refused(format!("accepts[{place}]"), "The same is accepted twice."));
            }
        }
        if !self.accepts.is_empty() && self.accepts.iter().all(|line| line.until.is_some()) {
            let sentence = "Everything accepted here ends: name what is used afterwards.";
            return Err(refused("accepts", sentence));
        }
        Ok(())
    }

    fn check_leads(&self) -> Result<(), Refusal> {
        let Some(leads) = &self.leads else { return Ok(()) };
        if leads.len() > LEADS_MAX {
            return Err(refused("leads", format!("A policy names {LEADS_MAX} leads at most.")));
        }
        let mut seen = std::collections::HashSet::new();
        if leads.iter().all(|name| seen.insert(name.to_lowercase())) {
            return Ok(());
        }
        Err(refused("leads", "The same name stands in the list twice."))
    }
}

/// The version in force at a moment.
pub fn in_force(versions: &[PolicyVersion], at: DateTime<Utc>) -> Option<&PolicyVersion> {
    versions.iter().filter(|version| version.effective_from <= at).max_by_key(|version| version.rank())
}

/// Where a version stands among all versions of its gate.
pub fn standing(version: &PolicyVersion, all: &[PolicyVersion], now: DateTime<Utc>) -> PolicyStanding {
    if version.effective_from <= now {
        let present = in_force(all, now).is_some_and(|present| present.id == version.id);
        return if present { PolicyStanding::Present } else { PolicyStanding::Past };
    }
    let replaced = |other: &PolicyVersion| {
        other.effective_from == version.effective_from && other.rank() > version.rank()
    };
    if all.iter().any(replaced) { PolicyStanding::Past } else { PolicyStanding::Coming }
}

fn refused(field: impl Into<String>, sentence: impl Into<String>) -> Refusal {
    Refusal::new(Code::InvalidValue, sentence).field(field)
}
