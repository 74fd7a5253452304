//! Which method may clear what: facepiece, air supply, filter, and the fit factor the use asks for.

use sellion_rules::eligibility::{Way, Worn, may_test};
use sellion_rules::filter::FilterClass;
use sellion_rules::method::Method;
use sellion_rules::respirator::{AirSupply, Facepiece};
use sellion_rules::{Code, FactValue};

use crate::support::rules;

fn worn(facepiece: Facepiece, protection_factor: u32, filter: &str) -> Worn<'_> {
    Worn { facepiece, supply: AirSupply::AirPurifying, protection_factor, filter }
}

fn by(method: Method) -> Way<'static> {
    Way { method, negative_pressure_mode: false, fitted_filter: None }
}

fn refused(worn: &Worn<'_>, way: &Way<'_>) -> (Code, String) {
    let refusal = may_test(worn, way, &rules()).expect_err("a refusal");
    let source = match refusal.facts.get("source") {
        Some(FactValue::Text(source)) => source.clone(),
        _ => String::new(),
    };
    (refusal.code, source)
}

/// 29 CFR 1910.134(f)(6) and (7): a full facepiece whose use asks for 500 is measured.
#[test]
fn facts_1_25_and_10_26_a_qualitative_test_shows_no_more_than_100() {
    let full = worn(Facepiece::FullFacepiece, 50, "P100/OV");
    for method in [Method::Saccharin, Method::DenatoniumBenzoate, Method::IsoamylAcetate] {
        let (code, source) = refused(&full, &by(method));
        assert_eq!((code, source.as_str()), (Code::TestMethodNotAllowed, "29 CFR 1910.134(f)(6)"));
    }
    for method in [Method::GeneratedAerosol, Method::AmbientAerosol, Method::ControlledNegativePressureRedon]
    {
        assert_eq!(may_test(&full, &by(method), &rules()), Ok(()));
    }
    let where_100_suffices = worn(Facepiece::FullFacepiece, 10, "P100");
    assert_eq!(may_test(&where_100_suffices, &by(Method::Saccharin), &rules()), Ok(()));
}

/// 29 CFR 1910.134(f)(8): in negative-pressure mode, by either kind of test, whatever the mode of use.
#[test]
fn facts_1_28_to_1_30_respirators_with_their_own_air() {
    for supply in AirSupply::ALL.iter().copied().filter(|supply| *supply != AirSupply::AirPurifying) {
        let own_air = Worn { supply, ..worn(Facepiece::FullFacepiece, 1_000, "P100") };
        for method in [Method::Saccharin, Method::AmbientAerosol] {
            assert_eq!(refused(&own_air, &by(method)).0, Code::NegativePressureModeRequired);
            let converted = Way { negative_pressure_mode: true, ..by(method) };
            assert_eq!(may_test(&own_air, &converted, &rules()), Ok(()), "{supply} by {method}");
            assert!(converted.modifies(), "fact 1.31: what was changed is undone before use");
        }
    }
}

#[test]
fn what_does_not_seal_has_no_fit() {
    for facepiece in [Facepiece::HelmetOrHood, Facepiece::LooseFitting] {
        let loose = Worn { supply: AirSupply::Powered, ..worn(facepiece, 25, "HEPA") };
        assert_eq!(refused(&loose, &by(Method::AmbientAerosol)).0, Code::TestMethodNotAllowed);
    }
}

/// The filter each method asks for: App. A I.B.2(b)(2), I.B.3(b)(3), I.B.4(b)(3), I.B.5(a)(1), I.C.2(a)(3), I.C.3(a)(1).
#[test]
fn facts_3_3_3_41_3_62_3_70_4_4_and_4_27_filters() {
    let cases = [
        (Method::IsoamylAcetate, "OV", "P100"),
        (Method::Saccharin, "N95", "OV"),
        (Method::DenatoniumBenzoate, "FFP2", "OV"),
        (Method::GeneratedAerosol, "HEPA", "N95"),
        (Method::AmbientAerosol, "N95", "OV"),
    ];
    for (method, good, bad) in cases {
        let half = |filter| worn(Facepiece::HalfMask, 10, filter);
        assert_eq!(may_test(&half(good), &by(method), &rules()), Ok(()), "{method} with {good}");
        let (code, source) = refused(&half(bad), &by(method));
        assert_eq!(code, Code::FilterNotSuitable, "{method} with {bad}");
        assert!(source.starts_with("29 CFR 1910.134 App. A I."), "{source}");
    }
}

/// App. A I.C.2(a)(3): for the test an elastomeric facepiece may carry better filters than at work.
#[test]
fn fact_4_4_another_filter_may_be_fitted_for_the_test() {
    let half = worn(Facepiece::HalfMask, 10, "N95");
    let better = Way { fitted_filter: Some("P100"), ..by(Method::GeneratedAerosol) };
    assert_eq!(may_test(&half, &better, &rules()), Ok(()));
    let filtering = worn(Facepiece::FilteringFacepiece, 10, "N95");
    assert_eq!(refused(&filtering, &better).0, Code::FilterNotSuitable);
    assert_eq!(refused(&filtering, &by(Method::GeneratedAerosol)).0, Code::FilterNotSuitable);
}

/// The titles of App. A I.C.4 and I.C.5, and the manifold of I.C.6(a)(4).
#[test]
fn facts_4_42_and_4_50_protocols_for_some_facepieces_only() {
    let filtering = worn(Facepiece::FilteringFacepiece, 10, "N95");
    let half = worn(Facepiece::HalfMask, 10, "P100");
    assert_eq!(may_test(&filtering, &by(Method::ModifiedAmbientAerosolFiltering), &rules()), Ok(()));
    assert_eq!(may_test(&half, &by(Method::ModifiedAmbientAerosolElastomeric), &rules()), Ok(()));
    assert_eq!(refused(&half, &by(Method::ModifiedAmbientAerosolFiltering)).0, Code::TestMethodNotAllowed);
    for method in [
        Method::ModifiedAmbientAerosolElastomeric,
        Method::ControlledNegativePressure,
        Method::ControlledNegativePressureRedon,
    ] {
        assert_eq!(refused(&filtering, &by(method)).0, Code::TestMethodNotAllowed);
    }
}

/// Off until a site switches it on; the reason is told (fact 3.83).
#[test]
fn fact_3_83_irritant_smoke_is_off_and_says_why() {
    let half = worn(Facepiece::HalfMask, 10, "P100");
    let refusal = may_test(&half, &by(Method::IrritantSmoke), &rules()).expect_err("a refusal");
    assert_eq!(refusal.code, Code::TestMethodNotAllowed);
    assert!(refusal.facts.contains_key("source"), "{refusal:?}");
}

/// Names of 42 CFR 84.170 and of EN 143 and EN 149 are read out of what is written on a respirator.
#[test]
fn fact_6_19_filter_classes_are_read_from_their_names() {
    use FilterClass as Class;
    assert_eq!(FilterClass::read("P100/OV"), [Class::P100, Class::OrganicVapour]);
    assert_eq!(FilterClass::read("ffp3 nr d"), [Class::Ffp3]);
    assert_eq!(FilterClass::read("N95"), [Class::N95]);
    assert_eq!(FilterClass::read(""), []);
    let nine = ["N95", "N99", "N100", "R95", "R99", "R100", "P95", "P99", "P100"];
    for name in nine {
        let read = FilterClass::read(name);
        assert!(read.len() == 1 && read[0].is_particulate() && read[0].is_for_counting(), "{name}");
    }
}
