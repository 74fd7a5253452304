//! Readings out of delimited files (RFC 4180), with mappings that a person chooses.

use proptest::prelude::*;
use sellion_rules::fit_factor::{Quantity, Reading};
use sellion_rules::reading_file::{FILE_BYTES_MAX, FileReading, FileReadings, Mapping, Problem, read};
use serde_json::{Value, json};

pub(crate) fn mapping(json: Value) -> Mapping {
    serde_json::from_value(json).expect("a mapping")
}

fn number(text: &str) -> Quantity {
    text.parse().expect("a decimal number")
}

/// Lines of exercises with fit factors.
pub(crate) fn by_exercise() -> Value {
    json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": "Exercise" },
        "columns": { "basis": "fit_factor", "fit_factor": "Factor" },
    } })
}

/// Lines of tests with what was counted inside in four exercises.
pub(crate) fn by_test() -> Value {
    let one = |exercise: u8| json!({ "exercise": exercise, "columns": { "basis": "inside", "inside": format!("In {exercise}") } });
    json!({
        "test": "Test",
        "outside": { "before": "Out before", "after": "Out after" },
        "layout": { "rows": "row_per_test", "measurements": [one(1), one(2), one(3), one(4)] },
    })
}

/// The same mapping with other members.
pub(crate) fn with(mut mapping: Value, members: Value) -> Mapping {
    for (name, value) in members.as_object().expect("an object") {
        mapping[name] = value.clone();
    }
    self::mapping(mapping)
}

fn factors(found: &FileReadings) -> Vec<(u8, String, u32)> {
    let told = |one: &FileReading| match one.reading {
        Reading::FitFactor { fit_factor } => (one.exercise, fit_factor.to_string(), one.line),
        other => panic!("{other:?}"),
    };
    found.readings.iter().map(told).collect()
}

/// The factors of a file by exercise.
pub(crate) fn read_factors(file: &str, mapping: &Mapping) -> Vec<(u8, String, u32)> {
    factors(&read(file.as_bytes(), mapping, None).expect("readings"))
}

pub(crate) fn expected(table: &[(u8, &str, u32)]) -> Vec<(u8, String, u32)> {
    table.iter().map(|(exercise, factor, line)| (*exercise, (*factor).to_owned(), *line)).collect()
}

pub(crate) fn problems(file: &[u8], mapping: &Mapping, test: Option<&str>) -> Vec<Problem> {
    read(file, mapping, test).expect_err("problems")
}

/// Where and in which column, without the sentences.
pub(crate) fn places(problems: &[Problem]) -> Vec<(Option<u32>, Option<&str>)> {
    problems.iter().map(|problem| (problem.line, problem.column.as_deref())).collect()
}

#[test]
fn fact_9_14_lines_end_as_they_like_and_the_last_one_need_not() {
    // RFC 4180 s.2 rules 1-3.
    let mapping = mapping(by_exercise());
    for file in [
        "Exercise,Factor\r\n1,120.5\r\n2,80\r\n",
        "Exercise,Factor\n1,120.5\n2,80",
        "Exercise,Factor\r1,120.5\r2,80\r",
        "\u{feff}Exercise,Factor\r\n1,120.5\r\n2,80\r\n",
    ] {
        assert_eq!(read_factors(file, &mapping), expected(&[(1, "120.5", 2), (2, "80", 3)]), "{file:?}");
    }
}

#[test]
fn fact_9_14_every_line_has_as_many_cells_as_the_first() {
    // RFC 4180 s.2 rule 4: a decimal comma outside quotation marks would move every later cell.
    let mapping = mapping(by_exercise());
    let found = problems(b"Exercise,Factor\n1,120,5\n2\n3,90\n", &mapping, None);
    assert_eq!(places(&found), [(Some(2), None), (Some(3), None)]);
    assert!(found[0].reason.contains("3 cells, the first one 2"), "{}", found[0].reason);
}

#[test]
fn fact_9_15_quoted_cells_hold_breaks_marks_and_delimiters() {
    // RFC 4180 s.2 rules 5-7.
    let mapping = with(by_exercise(), json!({ "decimal_mark": "comma" }));
    let file =
        "Exercise,\"Note, \"\"free\"\"\",Factor\r\n1,\"a\r\nb\",\"120,5\"\r\n\r\n\"2\",\"\",\"80\"\r\n";
    assert_eq!(read_factors(file, &mapping), expected(&[(1, "120.5", 2), (2, "80", 5)]));
}

#[test]
fn a_quotation_mark_that_is_never_closed_is_told_by_line() {
    let mapping = mapping(by_exercise());
    let found = problems(b"Exercise,Factor\n1,120\n2,\"80\n3,90\n", &mapping, None);
    assert_eq!(places(&found), [(Some(3), None)]);
    assert!(found[0].reason.contains("quotation mark"), "{}", found[0].reason);
    assert!(!problems(b"Exercise,Factor,\"Note\n1,120,a\n", &mapping, None).is_empty());
}

#[test]
fn delimiters_are_told_or_found_out() {
    let found_out = mapping(by_exercise());
    for file in ["Exercise,Factor\n1,80\n", "Exercise;Factor\n1;80\n", "Exercise\tFactor\n1\t80\n"] {
        assert_eq!(read_factors(file, &found_out), expected(&[(1, "80", 2)]), "{file:?}");
    }
    for (delimiter, file) in [
        ("comma", "Exercise,Factor,;;;;\n1,80,\n"),
        ("semicolon", "Exercise;Factor;,,,,\n1;80;\n"),
        ("tab", "Exercise\tFactor\t,,,,\n1\t80\t\n"),
    ] {
        let told = with(by_exercise(), json!({ "delimiter": delimiter }));
        assert_eq!(read_factors(file, &told), expected(&[(1, "80", 2)]), "{file:?}");
    }
    // A decimal comma is not taken for a delimiter where there is another candidate.
    let bare = json!({ "decimal_mark": "comma", "header_line": 0, "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": 1 },
        "columns": { "basis": "continuous", "outside": 2, "inside": 3 },
    } });
    let found = read(b"1;5000,5;26,25\n", &mapping(bare), None).expect("readings");
    let reading = Reading::Continuous { outside: number("5000.5"), inside: number("26.25") };
    assert_eq!(found.readings, [FileReading { exercise: 1, reading, line: 1 }]);
}

#[test]
fn numbers_that_could_be_meant_in_two_ways_are_problems() {
    let point = with(by_exercise(), json!({ "delimiter": "semicolon" }));
    let comma = with(by_exercise(), json!({ "delimiter": "semicolon", "decimal_mark": "comma" }));
    for (mapping, cells) in [
        (&point, ["1,200", "120,5", "", "-5", "1.2E+03", ">10000", "1 200", "12.5.1", "0"]),
        (&comma, ["1.200", "120.5", "", "-5", "1,2E+03", ">10000", "1 200", "1,200,5", "0"]),
    ] {
        for cell in cells {
            let found = problems(format!("Exercise;Factor\n1;{cell}\n").as_bytes(), mapping, None);
            assert_eq!(places(&found), [(Some(2), Some("Factor"))], "{cell:?}");
            assert!(found[0].reason.ends_with('.'), "{}", found[0].reason);
        }
    }
    assert_eq!(read_factors("Exercise;Factor\n1; 120,5 \n", &comma), expected(&[(1, "120.5", 2)]));
}

#[test]
fn all_problems_are_told_at_once() {
    let mapping = mapping(json!({ "layout": {
        "rows": "row_per_exercise",
        "exercise": { "by": "column", "column": "Exercise" },
        "columns": { "basis": "each", "before": "Before", "after": "After", "inside": "Inside" },
    } }));
    let file = b"Exercise,Before,After,Inside\n1,x,,0\n0,5000,5000,26\nbend,5000,5000,26\n4,5000,5000,0\n5,1\n6,5000,5000,26\n";
    let found = problems(file, &mapping, None);
    let expected = [
        (Some(2), Some("Before")),
        (Some(2), Some("After")),
        (Some(3), Some("Exercise")),
        (Some(4), Some("Exercise")),
        (Some(5), Some("Inside")),
        (Some(6), None),
    ];
    assert_eq!(places(&found), expected);
    assert!(found[4].reason.contains("can detect"), "I.C.2(a)(13), fact 4.11: {}", found[4].reason);
    let told = serde_json::to_value(&found[5]).expect("json");
    assert_eq!(told["line"], 6);
    assert!(told.get("column").is_none());
}

#[test]
fn lines_above_the_header_are_left_alone_and_line_numbers_stay_those_of_an_editor() {
    let mapping = with(by_exercise(), json!({ "header_line": 4 }));
    for end in ["\n", "\r\n", "\r"] {
        let file = ["Made by \"nobody", "", "on a day", "Exercise,Factor", "", "1,80", "2,90", ""].join(end);
        assert_eq!(read_factors(&file, &mapping), expected(&[(1, "80", 6), (2, "90", 7)]), "{file:?}");
    }
    for file in ["", "a\nb\n", "a\nb\nc\n\nExercise,Factor\n1,80\n"] {
        assert_eq!(places(&problems(file.as_bytes(), &mapping, None)), [(Some(4), None)], "{file:?}");
    }
    let far = with(by_exercise(), json!({ "header_line": u32::MAX }));
    assert_eq!(problems(b"Exercise,Factor\n1,80\n", &far, None).len(), 1);
}

#[test]
fn a_line_holds_a_whole_test_and_is_found_by_what_names_it() {
    let mapping = mapping(by_test());
    let file = b"Test,In 4,In 3,In 2,In 1,Out before,Out after\n\
        0041,1,1,1,1,1,1\n\
        0042,65,40,52,26,5000,5400\n\
        0043,x,x,x,x,x,x\n";
    // The other tests of the file may be as wrong as they like.
    let found = read(file, &mapping, Some(" 0042 ")).expect("readings");
    let inside =
        |exercise, text| FileReading { exercise, reading: Reading::Inside { inside: number(text) }, line: 3 };
    assert_eq!(found.readings, [inside(1, "26"), inside(2, "52"), inside(3, "40"), inside(4, "65")]);
    assert_eq!((found.before, found.after), (Some(number("5000")), Some(number("5400"))));

    let missing = problems(file, &mapping, Some("42"));
    assert!(missing[0].reason.contains("\"42\""), "zeros are kept: {}", missing[0].reason);
    assert_eq!(places(&problems(file, &mapping, Some("0043"))).len(), 6);
    let twice = [&file[..], b"0042,65,40,52,26,5000,5400\n"].concat();
    let found = problems(&twice, &mapping, Some("0042"));
    assert_eq!(places(&found), [(Some(5), None)]);
    assert!(found[0].reason.contains("line 3"), "{}", found[0].reason);
}

#[test]
fn without_a_column_for_the_test_a_file_holds_one() {
    let mut json = by_test();
    json.as_object_mut().expect("an object").remove("test");
    let mapping = mapping(json);
    let header = "In 1,In 2,In 3,In 4,Out before,Out after\n";
    let one = format!("{header}26,52,40,65,5000,5400\n");
    assert_eq!(read(one.as_bytes(), &mapping, None).expect("readings").readings.len(), 4);
    let two = format!("{one}26,52,40,65,5000,5400\n");
    assert_eq!(places(&problems(two.as_bytes(), &mapping, None)), [(Some(3), None)]);
    assert_eq!(places(&problems(header.as_bytes(), &mapping, None)), [(None, None)]);
    assert_eq!(places(&problems(one.as_bytes(), &mapping, Some("1"))), [(None, None)]);
    let named = self::mapping(by_test());
    assert_eq!(places(&problems(one.as_bytes(), &named, None)), [(None, None)], "which test is meant?");
}

#[test]
fn what_is_outside_stands_on_the_first_and_the_last_line_of_a_test() {
    let mapping = mapping(json!({
        "test": "Test",
        "outside": { "before": "Outside", "after": "Outside" },
        "layout": {
            "rows": "row_per_exercise",
            "exercise": { "by": "column", "column": "Exercise" },
            "columns": { "basis": "inside", "inside": "Inside" },
        },
    }));
    let file = b"Test,Exercise,Outside,Inside\nA,1,5000,26\nB,1,1,1\nA,2,,52\nA,3,5400,40\n";
    let found = read(file, &mapping, Some("A")).expect("readings");
    assert_eq!((found.before, found.after), (Some(number("5000")), Some(number("5400"))));
    assert_eq!(found.readings.iter().map(|one| one.line).collect::<Vec<_>>(), [2, 4, 5]);
}

#[test]
fn files_that_are_no_text_or_too_large_are_refused() {
    let mapping = mapping(by_exercise());
    assert_eq!(places(&problems(b"Exercise,Factor\n1,80\n2,\xfc\n", &mapping, None)), [(Some(3), None)]);
    // What spreadsheets call Unicode text: UTF-16.
    assert_eq!(places(&problems(b"\xff\xfeE\0x\0", &mapping, None)), [(Some(1), None)]);
    let mut file = b"Exercise,Factor\n1,80\n".to_vec();
    file.resize(FILE_BYTES_MAX, b'\n');
    assert!(read(&file, &mapping, None).is_ok(), "exactly the limit");
    file.push(b'\n');
    assert_eq!(places(&problems(&file, &mapping, None)), [(None, None)]);
}

#[test]
fn no_more_is_told_or_read_than_is_of_use() {
    let mapping = mapping(by_exercise());
    let wrong = format!("Exercise,Factor\n{}", "x\n".repeat(100_000));
    assert_eq!(problems(wrong.as_bytes(), &mapping, None).len(), 200);
    let long = format!("Exercise,Factor\n{}", "1,80\n".repeat(101));
    assert!(problems(long.as_bytes(), &mapping, None)[0].reason.contains("100 measurements"));
    let longer = format!("Exercise,Factor\n{}", "1,80\n".repeat(10_000));
    assert!(problems(longer.as_bytes(), &mapping, None)[0].reason.contains("lines"));
}

proptest! {
    #[test]
    fn what_was_written_is_read(
        table in prop::collection::vec((1_u8..=9, 1_u64..1_000_000_000), 1..20),
        delimiter in prop::sample::select(vec![",", ";", "\t"]),
        end in prop::sample::select(vec!["\n", "\r\n", "\r"]),
        comma in any::<bool>(),
    ) {
        let mark = if comma { "," } else { "." };
        let mut file = format!("Exercise{delimiter}Factor{end}");
        for (exercise, thousandths) in &table {
            let factor = format!("{}{mark}{:03}", thousandths / 1000, thousandths % 1000);
            file.push_str(&format!("{exercise}{delimiter}\"{factor}\"{end}"));
        }
        let mapping = with(by_exercise(), json!({ "decimal_mark": if comma { "comma" } else { "point" } }));
        let found = read(file.as_bytes(), &mapping, None).expect("readings");
        prop_assert_eq!(found.readings.len(), table.len());
        for (line, (one, (exercise, thousandths))) in (2..).zip(found.readings.iter().zip(&table)) {
            let fit_factor = number(&format!("{}.{:03}", thousandths / 1000, thousandths % 1000));
            prop_assert_eq!(*one, FileReading { exercise: *exercise, reading: Reading::FitFactor { fit_factor }, line });
        }
    }

    #[test]
    fn no_file_makes_the_reader_panic(
        file in prop::collection::vec(prop::sample::select(b"\xef\xbb\xbfExercise,Factor;\t\"\r\n\n12.5,0\xfc".to_vec()), 0..200),
        header_line in 0_u32..4,
        named in any::<bool>(),
    ) {
        let mapping = if named {
            with(by_exercise(), json!({ "header_line": header_line }))
        } else {
            with(by_exercise(), json!({ "header_line": header_line, "layout": {
                "rows": "row_per_exercise",
                "exercise": { "by": "column", "column": 1 },
                "columns": { "basis": "fit_factor", "fit_factor": 2 },
            } }))
        };
        match read(&file, &mapping, None) {
            Ok(found) => prop_assert!(!found.readings.is_empty()),
            Err(problems) => prop_assert!(!problems.is_empty()),
        }
    }
}
