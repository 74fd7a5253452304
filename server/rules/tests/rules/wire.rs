//! The shapes on the wire: events, levels and steps as clients send and read them.

use sellion_rules::attempt::{
    AttemptEvent, AttemptEventKind as Kind, AttemptSetup, Outcome, SealCheckResult, plan,
};
use sellion_rules::ladder::NextStep;
use sellion_rules::level::Level;
use sellion_rules::method::Method;
use sellion_rules::screening::{ScreeningEvent, ScreeningEventKind};
use sellion_rules::supplies::Agent;
use serde_json::{Value, json};

use crate::support::{Run, id, second, setup, setup_of};

fn event(kind: Kind) -> AttemptEvent {
    AttemptEvent { seq: 7, happened_at: second(30), kind }
}

#[test]
fn attempt_events_are_flat_objects_with_a_kind() {
    let table = [
        (Kind::Donned { by_wearer: true, fresh: false }, json!({ "kind": "donned", "by_wearer": true })),
        (
            Kind::Donned { by_wearer: true, fresh: true },
            json!({ "kind": "donned", "by_wearer": true, "fresh": true }),
        ),
        (Kind::Doffed, json!({ "kind": "doffed" })),
        (
            Kind::SealChecked { result: SealCheckResult::NotPossible },
            json!({ "kind": "seal_checked", "result": "not_possible" }),
        ),
        (Kind::Hooded { taste_gone: true }, json!({ "kind": "hooded", "taste_gone": true })),
        (Kind::DoseGiven { squeezes: 10 }, json!({ "kind": "dose_given", "squeezes": 10 })),
        (Kind::ExerciseStarted { number: 1 }, json!({ "kind": "exercise_started", "number": 1 })),
        (Kind::ExerciseEnded { number: 1 }, json!({ "kind": "exercise_ended", "number": 1 })),
        (Kind::Tasted, json!({ "kind": "tasted" })),
        (Kind::Unsure, json!({ "kind": "unsure" })),
        (Kind::Adjusted, json!({ "kind": "adjusted" })),
        (Kind::Interrupted, json!({ "kind": "interrupted" })),
        (Kind::HoodOff, json!({ "kind": "hood_off" })),
        (Kind::Unwell, json!({ "kind": "unwell" })),
        (
            Kind::AskedAgain { tasted: false, comfortable: true },
            json!({ "kind": "asked_again", "tasted": false, "comfortable": true }),
        ),
        (Kind::NebulizerChecked { clear: true }, json!({ "kind": "nebulizer_checked", "clear": true })),
        (Kind::Signed, json!({ "kind": "signed" })),
    ];
    for (kind, mut expected) in table {
        expected["seq"] = json!(7);
        expected["happened_at"] = json!("2027-03-08T09:00:30Z");
        assert_eq!(serde_json::to_value(event(kind)).expect("json"), expected);
        assert_eq!(serde_json::from_value::<AttemptEvent>(expected).expect("back"), event(kind));
    }
}

#[test]
fn misspelled_missing_and_unknown_members_are_errors() {
    let base = json!({ "seq": 1, "happened_at": "2027-03-08T09:00:30Z" });
    let with = |extra: Value| {
        let mut event = base.clone();
        for (name, value) in extra.as_object().expect("an object") {
            event[name] = value.clone();
        }
        serde_json::from_value::<AttemptEvent>(event)
    };
    assert!(with(json!({ "kind": "dose_given", "squeezes": 10 })).is_ok());
    assert!(with(json!({ "kind": "dose_given" })).is_err());
    assert!(with(json!({ "kind": "dose_given", "squeezes": 10, "colour": "red" })).is_err());
    assert!(with(json!({ "kind": "dose_given", "squeezes": 256 })).is_err());
    assert!(with(json!({ "kind": "dose_given", "squeezes": -1 })).is_err());
    assert!(with(json!({ "kind": "passed" })).is_err());
    assert!(with(json!({})).is_err());
}

#[test]
fn screening_events_are_flat_objects_too() {
    let event = ScreeningEvent {
        seq: 2,
        happened_at: second(0),
        kind: ScreeningEventKind::SetDone { tasted: true, squeezes: 4 },
    };
    let expected = json!({ "seq": 2, "happened_at": "2027-03-08T09:00:00Z", "kind": "set_done", "tasted": true, "squeezes": 4 });
    assert_eq!(serde_json::to_value(&event).expect("json"), expected);
    assert_eq!(serde_json::from_value::<ScreeningEvent>(expected).expect("back"), event);
}

#[test]
fn a_level_is_a_number() {
    for (level, number) in [(Level::Ten, 10), (Level::Twenty, 20), (Level::Thirty, 30)] {
        assert_eq!(serde_json::to_value(level).expect("json"), json!(number));
        assert_eq!(serde_json::from_value::<Level>(json!(number)).expect("back"), level);
    }
    for wrong in [json!(0), json!(4), json!(40), json!(300), json!("10")] {
        assert!(serde_json::from_value::<Level>(wrong).is_err());
    }
}

#[test]
fn words_are_the_same_on_the_wire_and_in_a_column() {
    for outcome in Outcome::ALL {
        assert_eq!(serde_json::to_value(outcome).expect("json"), json!(outcome.as_str()));
        assert_eq!(outcome.to_string().parse::<Outcome>(), Ok(*outcome));
    }
    assert!("Pass".parse::<Outcome>().is_err());
}

#[test]
fn setup_summary_and_next_step_survive_json() {
    let setup = setup(Agent::DenatoniumBenzoate, Level::Thirty);
    let json = serde_json::to_string(&setup).expect("json");
    assert_eq!(serde_json::from_str::<AttemptSetup>(&json).expect("back"), setup);

    let summary = serde_json::to_value(Run::testing().state.summary()).expect("json");
    assert_eq!(summary["phase"], "testing");
    assert_eq!(summary["next_seq"], 5);
    assert_eq!(summary["next_dose"]["squeezes"], 5);
    assert_eq!(summary["next_exercise"], 1);
    assert_eq!(summary["missing"], json!(["exercises", "asked_again", "nebulizer_checked", "signature"]));

    let step = NextStep::Screen { agent: Agent::Saccharin, not_before: Some(second(0)) };
    let expected = json!({ "step": "screen", "agent": "saccharin", "not_before": "2027-03-08T09:00:00Z" });
    assert_eq!(serde_json::to_value(&step).expect("json"), expected);
    let done = NextStep::Done { attempt: id(1) };
    assert_eq!(serde_json::to_value(&done).expect("json")["step"], "done");
}

/// An attempt as the first version of this program stored it, before there were other methods: it still replays.
#[test]
fn attempts_of_the_first_version_are_still_read() {
    let exercises: Vec<_> = ["normal_breathing", "deep_breathing"]
        .iter()
        .zip(1..)
        .map(|(key, number)| json!({ "number": number, "key": key, "seconds": 60, "alternative": null }))
        .collect();
    let stored = json!({
        "agent": "denatonium_benzoate", "level": 20, "jogging_instead_of_bending": false,
        "screened_at": "2027-03-08T09:00:00Z", "last_intake_at": null,
        "rules": {
            "wear_seconds": 300, "no_intake_seconds": 900, "seal_check_tries": 3, "redose_interval_seconds": 30,
            "redose_percent": 50, "dose_early_tolerance_seconds": 5, "dose_late_tolerance_seconds": 10,
            "clog_voids_saccharin": true, "clog_voids_denatonium_benzoate": true, "unsure_counts_as": "tasted",
            "exercises": exercises,
        },
    });
    let setup: AttemptSetup = serde_json::from_value(stored).expect("an old setup");
    assert_eq!((setup.method, setup.level), (Method::DenatoniumBenzoate, Some(Level::Twenty)));
    let doses = plan(&setup).doses.expect("doses");
    assert_eq!((doses.first_dose, doses.redose, doses.expected_redoses), (20, 10, 3));
    let again: AttemptSetup =
        serde_json::from_value(serde_json::to_value(&setup).expect("JSON")).expect("a setup");
    assert_eq!(again, setup);
}

/// Every setup survives being stored, whatever its method.
#[test]
fn setups_of_every_method_survive_being_stored() {
    for method in Method::ALL {
        let setup = setup_of(*method);
        let stored = serde_json::to_value(&setup).expect("JSON");
        assert_eq!(serde_json::from_value::<AttemptSetup>(stored).expect("a setup"), setup, "{method}");
    }
}
