//! Which method may clear what: facepiece, air supply, filter and the fit factor that the use asks for.

use crate::clearance::required_fit_factor;
use crate::filter::FilterClass;
use crate::method::{Family, Method};
use crate::refusal::{Code, Refusal};
use crate::respirator::{AirSupply, Facepiece};
use crate::ruleset::RuleSet;

/// What matters of a respirator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Worn<'a> {
    /// Its facepiece.
    pub facepiece: Facepiece,
    /// How the wearer gets air.
    pub supply: AirSupply,
    /// The protection expected of it in its use.
    pub protection_factor: u32,
    /// The words for its filter.
    pub filter: &'a str,
}

/// How it is to be tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way<'a> {
    /// The method.
    pub method: Method,
    /// Whether it is tested without its own air: the wearer's facepiece with filters, or an identical surrogate.
    pub negative_pressure_mode: bool,
    /// The words for another filter that is fitted for the test, if one is.
    pub fitted_filter: Option<&'a str>,
}

impl Way<'_> {
    /// Whether the facepiece is changed for the test, which has to be undone before it is worn at work
    /// (29 CFR 1910.134(f)(8)(iii)).
    pub const fn modifies(&self) -> bool {
        self.method.is_quantitative() || self.negative_pressure_mode
    }
}

/// Whether a test of this kind can mean anything for this respirator; the refusal says why not, and by which text.
pub fn may_test(worn: &Worn<'_>, way: &Way<'_>, rules: &RuleSet) -> Result<(), Refusal> {
    tight_fitting(worn)?;
    rules.method(way.method)?;
    negative_pressure_mode(worn, way)?;
    if !suffices(way.method, worn.supply, worn.protection_factor, rules) {
        let detail = format!(
            "{} cannot show the fit this respirator's use asks for: take a method that measures the fit factor.",
            sentence(way.method)
        );
        let required = required_fit_factor(worn.protection_factor);
        return Err(not_allowed(detail, "29 CFR 1910.134(f)(6)").fact("required_fit_factor", required));
    }
    facepiece_suits(worn, way.method)?;
    filter_suits(worn, way)
}

/// Whether a pass by this method can stand for the fit factor that the use asks for.
///
/// 29 CFR 1910.134(f)(6): a qualitative test only where a fit factor of 100 suffices. (f)(8): respirators with air of
/// their own are tested in negative-pressure mode, by either kind of test, whatever the mode of use.
pub fn suffices(method: Method, supply: AirSupply, protection_factor: u32, rules: &RuleSet) -> bool {
    method.is_quantitative()
        || supply != AirSupply::AirPurifying
        || required_fit_factor(protection_factor) <= rules.clearance.qualitative_fit_factor_max
}

fn tight_fitting(worn: &Worn<'_>) -> Result<(), Refusal> {
    if worn.facepiece.is_tight_fitting() {
        return Ok(());
    }
    let detail = "Nothing of this respirator seals on the face, so there is no fit to test.";
    Err(not_allowed(detail.to_owned(), "29 CFR 1910.134(f): tight-fitting facepieces"))
}

fn negative_pressure_mode(worn: &Worn<'_>, way: &Way<'_>) -> Result<(), Refusal> {
    if worn.supply == AirSupply::AirPurifying || way.negative_pressure_mode {
        return Ok(());
    }
    let detail = "Test this respirator in negative-pressure mode: the wearer's facepiece with filters, or an identical \
                  surrogate, and say so.";
    let refusal = Refusal::new(Code::NegativePressureModeRequired, detail).field("negative_pressure_mode");
    Err(refusal.fact("source", "29 CFR 1910.134(f)(8)"))
}

/// Protocols that are written for some facepieces only.
fn facepiece_suits(worn: &Worn<'_>, method: Method) -> Result<(), Refusal> {
    let filtering = worn.facepiece == Facepiece::FilteringFacepiece;
    let (suits, source) = match method {
        Method::ModifiedAmbientAerosolElastomeric => (!filtering, "29 CFR 1910.134 App. A I.C.4 (title)"),
        Method::ModifiedAmbientAerosolFiltering => (filtering, "29 CFR 1910.134 App. A I.C.5 (title)"),
        Method::ControlledNegativePressure | Method::ControlledNegativePressureRedon => {
            (!filtering, "29 CFR 1910.134 App. A I.C.6(a)(4): a manifold takes the place of the filter")
        }
        _ => (true, ""),
    };
    if suits {
        return Ok(());
    }
    let detail = format!("{} is not made for this kind of facepiece: take another method.", sentence(method));
    Err(not_allowed(detail, source))
}

fn filter_suits(worn: &Worn<'_>, way: &Way<'_>) -> Result<(), Refusal> {
    if way.fitted_filter.is_some() && worn.facepiece == Facepiece::FilteringFacepiece {
        let detail = "A filtering facepiece is itself the filter: no other one can be fitted to it.";
        return Err(Refusal::new(Code::FilterNotSuitable, detail).field("fitted_filter"));
    }
    type Demand = (fn(&FilterClass) -> bool, &'static str, &'static str);
    let demand: Option<Demand> = match way.method {
        Method::Saccharin => Some((is_particulate, "a particulate filter", "App. A I.B.3(b)(3)")),
        Method::DenatoniumBenzoate => Some((is_particulate, "a particulate filter", "App. A I.B.4(b)(3)")),
        Method::IsoamylAcetate => Some((
            |class| *class == FilterClass::OrganicVapour,
            "organic-vapour cartridges",
            "App. A I.B.2(b)(2)",
        )),
        Method::IrritantSmoke => Some((is_best, "HEPA or P100 filters", "App. A I.B.5(a)(1)")),
        Method::GeneratedAerosol => Some((is_best, "HEPA or P100 filters", "App. A I.C.2(a)(3)")),
        method if method.family() == Family::Aerosol => {
            Some((|class| class.is_for_counting(), "a filter of series 100, 99 or 95", "App. A I.C.3(a)(1)"))
        }
        _ => None,
    };
    let Some((suits, wanted, source)) = demand else { return Ok(()) };
    if FilterClass::read(way.fitted_filter.unwrap_or(worn.filter)).iter().any(suits) {
        return Ok(());
    }
    let detail = format!("{} needs {wanted}, and this respirator has none.", sentence(way.method));
    let refusal = Refusal::new(Code::FilterNotSuitable, detail).field("fitted_filter");
    Err(refusal.fact("source", format!("29 CFR 1910.134 {source}")))
}

fn is_particulate(class: &FilterClass) -> bool {
    class.is_particulate()
}

fn is_best(class: &FilterClass) -> bool {
    class.is_hepa_or_p100()
}

fn not_allowed(detail: String, source: &str) -> Refusal {
    Refusal::new(Code::TestMethodNotAllowed, detail).field("respirator_id").fact("source", source)
}

/// The name of a method at the beginning of a sentence.
fn sentence(method: Method) -> String {
    crate::text::capital(method.name())
}
