//! The API description tells the very words and shapes that travel.

use sellion_planning::cusum::Setup;
use sellion_planning::forecast::{Assumptions, Forecast, Trust};
use sellion_planning::retests::PersonRetests;
use sellion_planning::usage::{FindingKind, UsageReport};
use serde_json::{Value, json};
use utoipa::PartialSchema;

fn schema<T: PartialSchema>() -> Value {
    serde_json::to_value(T::schema()).expect("json")
}

#[test]
fn words_are_listed_as_they_travel() {
    let kinds = json!(["leak", "spill", "clog", "skipped_doses", "wrong_bottle", "bottle_differs"]);
    assert_eq!(schema::<FindingKind>()["enum"], kinds);
    assert_eq!(serde_json::to_value(FindingKind::SkippedDoses).expect("json"), "skipped_doses");
    assert_eq!(schema::<Trust>()["enum"][2], "common_practice");
}

#[test]
fn shapes_have_the_fields_that_travel() {
    let fields = |schema: &Value| schema["properties"].as_object().expect("fields").len();
    for (schema, value) in [
        (schema::<Assumptions>(), serde_json::to_value(Assumptions::default())),
        (schema::<Setup>(), serde_json::to_value(Setup::default())),
    ] {
        assert_eq!(fields(&schema), value.expect("json").as_object().expect("fields").len());
    }
    assert!(schema::<Forecast>().to_string().contains("SupplyOutlook"));
    assert!(schema::<UsageReport>().to_string().contains("AlarmRate"));
    assert!(schema::<PersonRetests>().to_string().contains("Retest"));
}
