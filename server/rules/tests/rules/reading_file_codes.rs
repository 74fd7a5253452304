//! Each thing that may be wrong with a file of readings, by its stable code.

use std::collections::BTreeSet;

use sellion_rules::reading_file::{FILE_BYTES_MAX, FileCode, Mapping};
use serde_json::json;

use super::reading_file::{by_exercise, by_test, mapping, problems, with};

fn code(file: &[u8], mapping: &Mapping, test: Option<&str>) -> FileCode {
    problems(file, mapping, test)[0].code
}

#[test]
fn every_code_is_told_for_some_file() {
    let lines = mapping(by_exercise());
    let tests = mapping(by_test());
    let header = "Test,In 1,In 2,In 3,In 4,Out before,Out after\n";
    let of_tests = |lines: &str| format!("{header}{lines}").into_bytes();
    let several = with(by_test(), json!({ "test": null }));
    let ordered = mapping(json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "order", "exercises": [1, 2] },
        "columns": { "basis": "fit_factor", "fit_factor": "Factor" },
    } }));
    let contrary = mapping(json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "order", "exercises": [] },
        "columns": { "basis": "fit_factor", "fit_factor": "Factor" },
    } }));
    let many = format!("Exercise,Factor\n{}", "1,80\n".repeat(1001));
    let bare = by_test();
    let two_tests = of_tests("41,1,1,1,1,9,9\n42,1,1,1,1,9,9\n");
    let same_twice = of_tests("41,1,1,1,1,9,9\n41,1,1,1,1,9,9\n");
    let said = [
        (code(b"Factor\n80\n", &contrary, None), FileCode::MappingWrong),
        (code(&vec![b'1'; FILE_BYTES_MAX + 1], &lines, None), FileCode::TooLarge),
        (code(b"Exercise,Factor\n1,\xff\n", &lines, None), FileCode::NotText),
        (code(&two_tests, &tests, None), FileCode::TestMissing),
        (code(b"Exercise,Factor\n1,80\n", &lines, Some("41")), FileCode::TestNeedsColumn),
        (code(b"", &lines, None), FileCode::HeaderMissing),
        (code(b"Exercise,Fit\n1,80\n", &lines, None), FileCode::NoSuchColumn),
        (code(b"Exercise,Factor,Factor\n1,80,90\n", &lines, None), FileCode::ColumnAmbiguous),
        (code(b"Exercise,Factor\n1,\"80\n", &lines, None), FileCode::QuoteOpen),
        (code(b"Exercise,Factor\n1,80,90\n", &lines, None), FileCode::CellCount),
        (code(many.as_bytes(), &lines, None), FileCode::TooManyLines),
        (code(b"Exercise,Factor\n", &lines, None), FileCode::NothingToRead),
        (code(&two_tests, &tests, Some("40")), FileCode::NothingToRead),
        (code(b"Factor\n80\n", &ordered, None), FileCode::ExerciseCount),
        (code(b"Exercise,Factor\nbend,80\n", &lines, None), FileCode::UnknownExercise),
        (code(&same_twice, &mapping(bare), Some("41")), FileCode::TestTwice),
        (code(&two_tests, &several, None), FileCode::SeveralTests),
        (code(b"Exercise,Factor\n1,\n", &lines, None), FileCode::CellEmpty),
        (code(b"Exercise;Factor\n1;1,200\n", &lines, None), FileCode::WrongMark),
        (code(b"Exercise,Factor\n1,>100\n", &lines, None), FileCode::NotANumber),
        (code(b"Exercise,Factor\n1,0\n", &lines, None), FileCode::CannotBe),
    ];
    for (found, meant) in said {
        assert_eq!(found, meant);
    }
    let told: BTreeSet<FileCode> = said.iter().map(|(found, _)| *found).collect();
    assert_eq!(told, FileCode::ALL.iter().copied().collect());
}
