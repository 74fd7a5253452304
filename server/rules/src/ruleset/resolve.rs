//! From what a rule set says to the typed values that govern a day, or to what somebody still has to confirm.

use std::collections::BTreeMap;
use std::str::FromStr;

use super::complete::{LATE, doses_overlap};
use super::document::{Document, Sayings};
use super::keys::Slot;
use super::mistake::Open;
use super::protocol::{
    AttemptRules, DoseRules, Exercise, FitReading, MeasuringRules, MethodRules, OdourRules, SmokeRules,
};
use super::values::{
    ClearanceRules, LadderRules, NotAccepted, RuleScalar, RuleSet, ScreeningRules, SupplyRules,
};
use crate::dates::Interval;
use crate::method::{Family, Method};

impl Document {
    /// The rule set that may be used, or the values without which it cannot be.
    pub fn resolve(&self) -> Result<RuleSet, Vec<Open>> {
        let mut open = Vec::new();
        let mut values = Typed { sayings: &self.sayings, method: None, open: &mut open };
        let shared = shared(&mut values);
        if let Some(reason) = doses_overlap(&self.sayings) {
            open.push(Open { key: LATE.to_owned(), reason: reason.to_owned() });
        }
        let Some((screening, ladder, supplies, clearance)) = shared.filter(|_| open.is_empty()) else {
            return Err(open);
        };
        let (mut methods, mut not_accepted) = (BTreeMap::new(), BTreeMap::new());
        for method in Method::ALL {
            match self.sayings.accepts(*method).and_then(|()| self.method_rules(*method)) {
                Ok(rules) => drop(methods.insert(*method, rules)),
                Err(why) => drop(not_accepted.insert(*method, why)),
            }
        }
        let agents = methods.keys().filter_map(|method: &Method| method.agent()).collect();
        Ok(RuleSet {
            name: self.id.name.clone(),
            version: self.id.version.clone(),
            title: self.title.clone(),
            screening,
            methods,
            not_accepted,
            ladder,
            supplies,
            clearance,
            agents,
            recipes: self.recipes(),
            listed: self.values(),
        })
    }

    /// The values without which the rule set cannot be used, and that nobody has confirmed; none when it can be.
    pub fn open(&self) -> Vec<Open> {
        self.resolve().err().unwrap_or_default()
    }

    fn method_rules(&self, method: Method) -> Result<MethodRules, NotAccepted> {
        let mut open = Vec::new();
        let mut values = Typed { sayings: &self.sayings, method: Some(method), open: &mut open };
        let list = self.sayings.list(method).ok().flatten();
        let exercises: Vec<_> = list.into_iter().flat_map(|list| list.rows).map(|row| row.exercise).collect();
        let half_facepiece = attempt(&mut values, method, &exercises, false);
        let full_facepiece = attempt(&mut values, method, &exercises, true);
        match half_facepiece.zip(full_facepiece).filter(|_| open.is_empty()) {
            Some((half_facepiece, full_facepiece)) => {
                Ok(MethodRules { method, half_facepiece, full_facepiece })
            }
            None => {
                let keys = open.iter().map(|open| open.key.as_str()).collect::<Vec<_>>().join(", ");
                let sentence = format!("{} cannot be used before {keys} is settled.", method.name());
                Err(NotAccepted { sentence, source: self.id.to_string() })
            }
        }
    }
}

type Shared = (ScreeningRules, LadderRules, SupplyRules, ClearanceRules);

fn shared(values: &mut Typed<'_>) -> Option<Shared> {
    let screening = screening(values);
    let ladder = ladder(values);
    let supplies = supplies(values);
    let clearance = clearance(values);
    // The values of the attempts are shared too: a set in which they are open is no use to any method.
    let exercises: [Exercise; 0] = [];
    attempt(values, Method::Saccharin, &exercises, false);
    Some((screening?, ladder?, supplies?, clearance?))
}

fn screening(values: &mut Typed<'_>) -> Option<ScreeningRules> {
    let (sets, set_squeezes) = (values.number("screening_sets"), values.number("screening_set_squeezes"));
    let no_intake_seconds = values.number("no_intake_seconds");
    let plain_water_check = values.flag("plain_water_check");
    Some(ScreeningRules {
        sets: sets?,
        set_squeezes: set_squeezes?,
        no_intake_seconds: no_intake_seconds?,
        plain_water_check: plain_water_check?,
    })
}

fn ladder(values: &mut Typed<'_>) -> Option<LadderRules> {
    let kind = values.word("ladder");
    let fails_before_referral = values.number("fails_before_referral");
    let wait_after_fail_seconds = values.number("wait_after_fail_seconds");
    let agent_switch_wait_seconds = values.number("agent_switch_wait_seconds");
    let quantitative_after_fail = values.word("quantitative_after_fail");
    Some(LadderRules {
        kind: kind?,
        fails_before_referral: fails_before_referral?,
        wait_after_fail_seconds: wait_after_fail_seconds?,
        agent_switch_wait_seconds: agent_switch_wait_seconds?,
        wait_after_failed_odour_seconds: values.wait_after_failed_odour(),
        quantitative_after_fail: quantitative_after_fail?,
    })
}

fn supplies(values: &mut Typed<'_>) -> Option<SupplyRules> {
    let fill_life_seconds = values.number("fill_life_seconds");
    let opened_life_days = values.limit("opened_life_days");
    Some(SupplyRules { fill_life_seconds: fill_life_seconds?, opened_life_days: opened_life_days? })
}

fn clearance(values: &mut Typed<'_>) -> Option<ClearanceRules> {
    let (months, strict_days) = (values.number("interval_months"), values.number("interval_strict_days"));
    let due_reading = values.word("due_reading");
    let qualitative_fit_factor_max = values.number("qualitative_fit_factor_max");
    Some(ClearanceRules {
        interval: Interval { months: months?, strict_days: strict_days? },
        due_reading: due_reading?,
        qualitative_fit_factor_max: qualitative_fit_factor_max?,
    })
}

fn attempt(
    values: &mut Typed<'_>,
    method: Method,
    exercises: &[Exercise],
    full_facepiece: bool,
) -> Option<AttemptRules> {
    let wear_seconds = values.number("wear_seconds");
    let no_intake_seconds = values.number("no_intake_seconds");
    let seal_check_tries = values.number("seal_check_tries");
    let unsure_counts_as = values.word("unsure_counts_as");
    let doses = doses(values);
    let rules = AttemptRules {
        wear_seconds: wear_seconds?,
        no_intake_seconds: if method.family() == Family::Taste { no_intake_seconds? } else { 0 },
        seal_check_tries: seal_check_tries?,
        unsure_counts_as: unsure_counts_as?,
        exercises: exercises.to_vec(),
        doses: None,
        odour: None,
        smoke: None,
        measuring: None,
    };
    Some(match method.family() {
        Family::Taste => AttemptRules { doses: Some(doses?), ..rules },
        Family::Odour => {
            let settle_seconds = values.number("settle_seconds")?;
            AttemptRules { odour: Some(OdourRules { settle_seconds }), ..rules }
        }
        Family::Smoke => {
            let perimeter_passes = values.number("perimeter_passes")?;
            AttemptRules { smoke: Some(SmokeRules { perimeter_passes }), ..rules }
        }
        Family::Aerosol | Family::Pressure => {
            AttemptRules { measuring: Some(measuring(values, method, full_facepiece)?), ..rules }
        }
    })
}

fn doses(values: &mut Typed<'_>) -> Option<DoseRules> {
    let redose_interval_seconds = values.number("redose_interval_seconds");
    let redose_percent = values.number("redose_percent");
    let early = values.number("dose_early_tolerance_seconds");
    let late = values.number(LATE);
    Some(DoseRules {
        redose_interval_seconds: redose_interval_seconds?,
        redose_percent: redose_percent?,
        dose_early_tolerance_seconds: early?,
        dose_late_tolerance_seconds: late?,
        clog_voids_saccharin: values.clog_voids(Method::Saccharin),
        clog_voids_denatonium_benzoate: values.clog_voids(Method::DenatoniumBenzoate),
    })
}

fn measuring(values: &mut Typed<'_>, method: Method, full_facepiece: bool) -> Option<MeasuringRules> {
    let facepiece = if full_facepiece { "full_facepiece" } else { "half_facepiece" };
    let reading: Option<FitReading> = values.word("reading");
    let (peak, drift) = if method == Method::GeneratedAerosol {
        let peak = values.number(&format!("peak_percent_{facepiece}"))?;
        (Some(peak), Some(values.number("chamber_drift_percent")?))
    } else {
        (None, None)
    };
    let held = method.family() == Family::Pressure;
    Some(MeasuringRules {
        reading: reading?,
        pass_level: values.number(&format!("pass_level_{facepiece}"))?,
        peak_percent_max: peak,
        chamber_drift_percent_max: drift,
        breath_hold_seconds: if held { Some(values.number("breath_hold_seconds")?) } else { None },
        plausible_fit_factor_max: values.number("plausible_fit_factor_max")?,
        while_moving: values.flag("while_moving")?,
    })
}

/// Takes values as the types they have in the program, and notes those that nobody has confirmed.
struct Typed<'a> {
    sayings: &'a Sayings,
    method: Option<Method>,
    open: &'a mut Vec<Open>,
}

impl Typed<'_> {
    fn value(&mut self, name: &str) -> Option<RuleScalar> {
        let slot = Slot::find(None, name).or_else(|| Slot::find(self.method, name))?;
        let value = self.sayings.holds(slot);
        if value.is_none() {
            let said = self.sayings.values.get(&slot.flat()).and_then(|said| said.first());
            let reason = match said {
                Some(said) if said.value.is_not_set() => format!("not set; {}", said.source),
                Some(said) => format!("{} is not confirmed; {}", said.value, said.source),
                None => "no value".to_owned(),
            };
            self.note(slot, reason);
        }
        value
    }

    fn note(&mut self, slot: Slot, reason: String) {
        let open = Open { key: slot.flat(), reason };
        if !self.open.contains(&open) {
            self.open.push(open);
        }
    }

    /// A value that is not of the type the program has for it is left open, and said to be.
    fn read<T>(&mut self, name: &str, read: impl FnOnce(&RuleScalar) -> Option<T>) -> Option<T> {
        let value = self.value(name)?;
        let typed = read(&value);
        if typed.is_none()
            && let Some(slot) = Slot::find(None, name).or_else(|| Slot::find(self.method, name))
        {
            self.note(slot, format!("this program has no use for {value}"));
        }
        typed
    }

    fn number<N: TryFrom<i64>>(&mut self, name: &str) -> Option<N> {
        self.read(name, |value| match value {
            RuleScalar::Number(number) => N::try_from(*number).ok(),
            _ => None,
        })
    }

    /// A number, or none where there is no such limit.
    fn limit(&mut self, name: &str) -> Option<Option<u32>> {
        self.read(name, |value| match value {
            RuleScalar::Number(number) => u32::try_from(*number).ok().map(Some),
            value => value.is_not_set().then_some(None),
        })
    }

    fn flag(&mut self, name: &str) -> Option<bool> {
        self.read(name, |value| if let RuleScalar::Flag(flag) = value { Some(*flag) } else { None })
    }

    fn word<W: FromStr>(&mut self, name: &str) -> Option<W> {
        self.read(name, |value| if let RuleScalar::Text(word) = value { word.parse().ok() } else { None })
    }

    /// Of a method that may not be accepted at all, so that nothing is open where it is not there.
    fn clog_voids(&self, method: Method) -> bool {
        let value = Slot::find(Some(method), "clog_voids").and_then(|slot| self.sayings.holds(slot));
        value == Some(RuleScalar::Flag(true))
    }

    fn wait_after_failed_odour(&self) -> u32 {
        let slot = Slot::find(Some(Method::IsoamylAcetate), "wait_after_failed_screening_seconds");
        match slot.and_then(|slot| self.sayings.holds(slot)) {
            Some(RuleScalar::Number(seconds)) => u32::try_from(seconds).unwrap_or(u32::MAX),
            _ => 0,
        }
    }
}
