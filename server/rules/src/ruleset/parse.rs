//! Reading a rule set from TOML, with errors that name the key and what is wrong with it.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::Deserialize;

use super::protocol::{AttemptRules, DoseRules, Exercise, MeasuredFail, MethodRules};
use super::values::{
    ClearanceRules, LadderRules, RuleScalar, RuleSet, RuleStatus, RuleValue, ScreeningRules, SupplyRules,
};
use crate::dates::Interval;
use crate::level::Level;
use crate::method::Method;
use crate::supplies::Agent;

/// The word for a value that is left open on purpose.
const NOT_SET: &str = "not_set";

/// What is wrong with a rule set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleSetError {
    /// The rule set, as far as its name could be read.
    pub rule_set: String,
    /// The key that is meant; empty when it is the file as a whole.
    pub key: String,
    /// What is wrong with it.
    pub reason: String,
}

impl fmt::Display for RuleSetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { rule_set, key, reason } = self;
        if key.is_empty() {
            write!(f, "rule set {rule_set}: {reason}")
        } else {
            write!(f, "rule set {rule_set}, {key}: {reason}")
        }
    }
}

impl std::error::Error for RuleSetError {}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSet {
    name: String,
    version: String,
    title: String,
    values: BTreeMap<String, RawValue>,
    agents: Vec<RawAgent>,
    exercises: Vec<RawExercise>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawValue {
    value: RuleScalar,
    unit: String,
    source: String,
    status: RuleStatus,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawAgent {
    agent: Agent,
    clog_voids: bool,
    source: String,
    status: RuleStatus,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawExercise {
    key: String,
    seconds: u32,
    alternative: Option<String>,
    source: String,
    status: RuleStatus,
}

impl RuleSet {
    /// Reads one rule set. Missing, unknown, misspelled and impossible values are errors that name their key.
    pub fn parse(text: &str) -> Result<Self, RuleSetError> {
        let raw: RawSet = toml::from_str(text).map_err(|error| RuleSetError {
            rule_set: "(unreadable)".to_owned(),
            key: String::new(),
            reason: error.to_string().trim_end().to_owned(),
        })?;
        let mut reader = Reader { rule_set: raw.name.clone(), values: raw.values, listed: Vec::new() };
        reader.check_header(&raw.name, &raw.version)?;
        let screening = screening(&mut reader)?;
        let ladder = ladder(&mut reader)?;
        let supplies = SupplyRules {
            fill_life_seconds: reader.number("fill_life_seconds", 1)?,
            opened_life_days: reader.optional_number("opened_life_days")?,
        };
        let clearance = clearance(&mut reader)?;
        let exercises = reader.exercises(&raw.exercises)?;
        let clog = |agent: Agent| raw.agents.iter().any(|listed| listed.agent == agent && listed.clog_voids);
        let attempt =
            attempt(&mut reader, exercises, clog(Agent::Saccharin), clog(Agent::DenatoniumBenzoate))?;
        let agents = reader.agents(&raw.agents)?;
        let methods = agents.iter().map(|agent| {
            let method = Method::from(*agent);
            (method, MethodRules { method, half_facepiece: attempt.clone(), full_facepiece: attempt.clone() })
        });
        let methods = methods.collect();
        reader.finish(Self {
            name: raw.name,
            version: raw.version,
            title: raw.title,
            screening,
            methods,
            ladder,
            supplies,
            clearance,
            agents,
            listed: Vec::new(),
        })
    }
}

fn screening(reader: &mut Reader) -> Result<ScreeningRules, RuleSetError> {
    let rules = ScreeningRules {
        sets: reader.number("screening_sets", 1)?,
        set_squeezes: reader.number("screening_set_squeezes", 1)?,
        no_intake_seconds: reader.number("no_intake_seconds", 0)?,
        plain_water_check: false,
    };
    if usize::from(rules.sets) > Level::ALL.len() {
        return Err(reader.error("screening_sets", "there is a level for each of three sets and no more"));
    }
    if rules.set_squeezes != Level::Ten.squeezes() {
        return Err(reader.error("screening_set_squeezes", "levels are counted in sets of ten"));
    }
    Ok(rules)
}

fn attempt(
    reader: &mut Reader,
    exercises: Vec<Exercise>,
    clog_voids_saccharin: bool,
    clog_voids_denatonium_benzoate: bool,
) -> Result<AttemptRules, RuleSetError> {
    let rules = AttemptRules {
        wear_seconds: reader.number("wear_seconds", 0)?,
        no_intake_seconds: reader.again("no_intake_seconds")?,
        seal_check_tries: reader.number("seal_check_tries", 1)?,
        doses: None,
        unsure_counts_as: reader.word("unsure_counts_as")?,
        exercises,
        odour: None,
        smoke: None,
        measuring: None,
    };
    let doses = DoseRules {
        redose_interval_seconds: reader.number("redose_interval_seconds", 1)?,
        redose_percent: reader.number("redose_percent", 1)?,
        dose_early_tolerance_seconds: reader.number("dose_early_tolerance_seconds", 0)?,
        dose_late_tolerance_seconds: reader.number("dose_late_tolerance_seconds", 0)?,
        clog_voids_saccharin,
        clog_voids_denatonium_benzoate,
    };
    let window = doses.dose_early_tolerance_seconds.saturating_add(doses.dose_late_tolerance_seconds);
    if window >= doses.redose_interval_seconds {
        let reason = "the tolerances of two doses overlap, so one squeeze could count for either";
        return Err(reader.error("dose_late_tolerance_seconds", reason));
    }
    if doses.redose_percent > 100 {
        return Err(reader.error("redose_percent", "a later dose is not larger than the first"));
    }
    Ok(AttemptRules { doses: Some(doses), ..rules })
}

fn ladder(reader: &mut Reader) -> Result<LadderRules, RuleSetError> {
    Ok(LadderRules {
        kind: reader.word("ladder")?,
        fails_before_referral: reader.number("fails_before_referral", 1)?,
        wait_after_fail_seconds: reader.number("wait_after_fail_seconds", 0)?,
        agent_switch_wait_seconds: reader.number("agent_switch_wait_seconds", 0)?,
        wait_after_failed_odour_seconds: 0,
        quantitative_after_fail: MeasuredFail::Refit,
    })
}

fn clearance(reader: &mut Reader) -> Result<ClearanceRules, RuleSetError> {
    Ok(ClearanceRules {
        interval: Interval {
            months: reader.number("interval_months", 1)?,
            strict_days: reader.number("interval_strict_days", 1)?,
        },
        due_reading: reader.word("due_reading")?,
        qualitative_fit_factor_max: reader.number("qualitative_fit_factor_max", 1)?,
    })
}

/// Takes values out of the file one by one, so that what is left at the end is what nobody asked for.
struct Reader {
    rule_set: String,
    values: BTreeMap<String, RawValue>,
    listed: Vec<RuleValue>,
}

impl Reader {
    fn error(&self, key: &str, reason: impl Into<String>) -> RuleSetError {
        RuleSetError { rule_set: self.rule_set.clone(), key: key.to_owned(), reason: reason.into() }
    }

    fn check_header(&self, name: &str, version: &str) -> Result<(), RuleSetError> {
        let slug = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if name.is_empty() || !name.chars().all(slug) {
            return Err(self.error("name", "write it in small letters, digits and hyphens"));
        }
        let (date, running) = version.split_once('.').unwrap_or((version, ""));
        if chrono::NaiveDate::from_str(date).is_err() || running.parse::<u32>().is_err() {
            return Err(self.error("version", "write it as a date and a running number, as 2019-09-26.1"));
        }
        Ok(())
    }

    fn list(&mut self, key: &str, raw: RawValue) -> Result<RuleScalar, RuleSetError> {
        if raw.source.trim().is_empty() {
            return Err(self.error(key, "the source is empty; write \"no source\" where there is none"));
        }
        let RawValue { value, unit, source, status } = raw;
        self.listed.push(RuleValue { key: key.to_owned(), value: value.clone(), unit, source, status });
        Ok(value)
    }

    fn take(&mut self, key: &str) -> Result<RuleScalar, RuleSetError> {
        let raw = self.values.remove(key).ok_or_else(|| self.error(key, "the value is missing"))?;
        self.list(key, raw)
    }

    fn as_number<N: TryFrom<i64>>(
        &self,
        key: &str,
        value: &RuleScalar,
        least: i64,
    ) -> Result<N, RuleSetError> {
        let RuleScalar::Number(number) = *value else {
            return Err(self.error(key, "a whole number is expected"));
        };
        if number < least {
            return Err(self.error(key, format!("{number} is less than {least}")));
        }
        N::try_from(number).map_err(|_| self.error(key, format!("{number} is too large")))
    }

    fn number<N: TryFrom<i64>>(&mut self, key: &str, least: i64) -> Result<N, RuleSetError> {
        let value = self.take(key)?;
        self.as_number(key, &value, least)
    }

    /// A number that was already taken for another part of the set.
    fn again<N: TryFrom<i64>>(&mut self, key: &str) -> Result<N, RuleSetError> {
        let value = self.listed.iter().find(|listed| listed.key == key).map(|listed| listed.value.clone());
        let value = value.ok_or_else(|| self.error(key, "the value is missing"))?;
        self.as_number(key, &value, 0)
    }

    fn optional_number(&mut self, key: &str) -> Result<Option<u32>, RuleSetError> {
        match self.take(key)? {
            RuleScalar::Text(word) if word == NOT_SET => Ok(None),
            value => self.as_number(key, &value, 0).map(Some),
        }
    }

    fn word<W: FromStr<Err = crate::UnknownText>>(&mut self, key: &str) -> Result<W, RuleSetError> {
        match self.take(key)? {
            RuleScalar::Text(word) => {
                word.parse().map_err(|unknown: crate::UnknownText| self.error(key, unknown.to_string()))
            }
            RuleScalar::Flag(_) | RuleScalar::Number(_) => Err(self.error(key, "a word is expected")),
        }
    }

    fn exercises(&mut self, raw: &[RawExercise]) -> Result<Vec<Exercise>, RuleSetError> {
        if raw.is_empty() {
            return Err(self.error("exercises", "there is none"));
        }
        let mut exercises = Vec::with_capacity(raw.len());
        for (number, exercise) in (1..=u8::MAX).zip(raw) {
            let key = format!("exercise_{number}");
            if exercise.seconds == 0 {
                return Err(self.error(&key, "it has no length"));
            }
            let value = RawValue {
                value: RuleScalar::Number(i64::from(exercise.seconds)),
                unit: format!("seconds of {}", exercise.key),
                source: exercise.source.clone(),
                status: exercise.status,
            };
            self.list(&key, value)?;
            exercises.push(Exercise {
                number,
                key: exercise.key.clone(),
                seconds: exercise.seconds,
                alternative: exercise.alternative.clone(),
                measurements: 0,
                measuring_seconds: 0,
                breaths: None,
                sampling: None,
            });
        }
        if exercises.len() < raw.len() {
            return Err(self.error("exercises", "there are more than 255"));
        }
        Ok(exercises)
    }

    fn agents(&mut self, raw: &[RawAgent]) -> Result<Vec<Agent>, RuleSetError> {
        let mut agents = Vec::with_capacity(raw.len());
        for listed in raw {
            let key = format!("clog_voids_{}", listed.agent);
            if agents.contains(&listed.agent) {
                return Err(self.error(&key, "the agent is listed twice"));
            }
            let value = RawValue {
                value: RuleScalar::Flag(listed.clog_voids),
                unit: "yes or no".to_owned(),
                source: listed.source.clone(),
                status: listed.status,
            };
            self.list(&key, value)?;
            agents.push(listed.agent);
        }
        if agents.is_empty() {
            return Err(self.error("agents", "there is none"));
        }
        Ok(agents)
    }

    fn finish(self, set: RuleSet) -> Result<RuleSet, RuleSetError> {
        match self.values.keys().next() {
            Some(unknown) => Err(self.error(unknown, "no such value is known")),
            None => Ok(RuleSet { listed: self.listed, ..set }),
        }
    }
}
