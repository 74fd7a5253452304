//! The mappings that files of readings are read with: columns, names of exercises, and what cannot be meant.

use sellion_rules::reading_file::Mapping;
use serde_json::{Value, json};

use crate::reading_file::{by_exercise, by_test, expected, mapping, places, problems, read_factors, with};

#[test]
fn exercises_are_named_numbered_or_in_order_and_lines_may_be_left_out() {
    let names = json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": 1, "names": { "Bending over": 1, "Talking": 2, "Grimace": null, "Overall": null } },
        "columns": { "basis": "fit_factor", "fit_factor": 2 },
    } });
    let file = "What,Factor\nBending over,120\nTalking,80\nGrimace,15\n3,150\nOverall,-\n";
    let lines = [(1, "120", 2), (2, "80", 3), (3, "150", 5)];
    assert_eq!(read_factors(file, &mapping(names)), expected(&lines));

    let order = |exercises: Value| {
        mapping(json!({ "layout": {
            "rows": "row_per_exercise",
            "exercise": { "by": "order", "exercises": exercises },
            "columns": { "basis": "fit_factor", "fit_factor": 2 },
        } }))
    };
    let lines = [(1, "120", 2), (2, "80", 3), (3, "150", 5)];
    assert_eq!(read_factors(file, &order(json!([1, 2, null, 3, null]))), expected(&lines));
    let found = problems(file.as_bytes(), &order(json!([1, 2, 3])), None);
    assert_eq!(places(&found), [(None, None)]);
    assert!(found[0].reason.contains("5 lines where 3 exercises"), "{}", found[0].reason);
    let grimace_only = b"What,Factor\nBending over,120\n";
    assert_eq!(
        places(&problems(grimace_only, &order(json!([null])), None)),
        [(None, None)],
        "no such mapping"
    );
    let names = json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": 1, "names": { "Bending over": null } },
        "columns": { "basis": "fit_factor", "fit_factor": 2 },
    } });
    assert_eq!(places(&problems(grimace_only, &mapping(names), None)), [(None, None)], "nothing is left");
}

#[test]
fn columns_that_are_missing_or_doubled_are_named() {
    let mapping = mapping(by_exercise());
    let found = problems(b"exercise,Factor,Factor\n1,2,3\n", &mapping, None);
    assert_eq!(places(&found), [(Some(1), Some("Exercise")), (Some(1), Some("Factor"))]);
    assert!(found[1].reason.contains("Several"), "{}", found[1].reason);
    let numbered = with(
        by_exercise(),
        json!({ "header_line": 0, "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": 1 },
        "columns": { "basis": "fit_factor", "fit_factor": 3 },
    } }),
    );
    assert_eq!(places(&problems(b"1,2\n", &numbered, None)), [(Some(1), Some("3"))]);
}

#[test]
fn mappings_that_cannot_be_meant_are_refused() {
    let per_exercise = |exercise: Value, columns: Value| json!({ "layout": { "rows": "row_per_exercise", "exercise": exercise, "columns": columns } });
    let per_test =
        |measurements: Value| json!({ "layout": { "rows": "row_per_test", "measurements": measurements } });
    let factor = |column: Value| json!({ "basis": "fit_factor", "fit_factor": column });
    let first = json!({ "by": "column", "column": 1 });
    let measured = |exercise: u8, columns: Value| json!({ "exercise": exercise, "columns": columns });
    let many: Vec<_> = (1..=101).map(|place| measured(1, factor(json!(place)))).collect();
    let mut headless = per_exercise(first.clone(), factor(json!("Factor")));
    headless["header_line"] = json!(0);
    let mut shared = per_test(json!([measured(1, json!({ "basis": "inside", "inside": 1 }))]));
    shared["outside"] = json!({ "before": 2, "after": 2 });
    let table = [
        (per_exercise(first.clone(), factor(json!(0))), "columns"),
        (per_exercise(first.clone(), factor(json!(" "))), "columns"),
        (per_exercise(first.clone(), factor(json!(1))), "columns"),
        (headless, "columns"),
        (shared, "columns"),
        (per_exercise(json!({ "by": "order", "exercises": [] }), factor(json!(1))), "exercises"),
        (per_exercise(json!({ "by": "order", "exercises": [null] }), factor(json!(1))), "exercises"),
        (per_exercise(json!({ "by": "order", "exercises": [0] }), factor(json!(1))), "exercise"),
        (
            per_exercise(json!({ "by": "column", "column": 1, "names": { " ": 1 } }), factor(json!(2))),
            "names",
        ),
        (per_test(json!([])), "measurements"),
        (per_test(json!(many)), "measurements"),
        (per_test(json!([measured(0, factor(json!(1)))])), "exercise"),
        (
            per_test(json!([
                measured(1, factor(json!(1))),
                measured(2, json!({ "basis": "inside", "inside": 2 }))
            ])),
            "measurements",
        ),
    ];
    for (json, field) in table {
        let mapping = mapping(json.clone());
        assert_eq!(mapping.check().expect_err("cannot be meant").field.as_deref(), Some(field), "{json}");
        assert_eq!(places(&problems(b"1,2\n", &mapping, None)), [(None, None)]);
    }
}

#[test]
fn mappings_are_remembered_as_they_were_chosen_and_take_no_stray_members() {
    for json in [by_exercise(), by_test()] {
        let mapping = mapping(json.clone());
        assert_eq!(mapping.check(), Ok(()));
        let stored = serde_json::to_string(&mapping).expect("json");
        assert_eq!(serde_json::from_str::<Mapping>(&stored).expect("back"), mapping);
        let mut stray = json.clone();
        stray["colour"] = json!("red");
        assert!(serde_json::from_value::<Mapping>(stray).is_err());
        let mut stray = json.clone();
        stray["layout"]["colour"] = json!("red");
        assert!(serde_json::from_value::<Mapping>(stray).is_err());
        let mut missing = json;
        missing.as_object_mut().expect("an object").remove("layout");
        assert!(serde_json::from_value::<Mapping>(missing).is_err());
    }
}
