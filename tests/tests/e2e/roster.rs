//! Roster files, clean ones and those that payroll really sends.

use sellion_rules::roles::Role;
use sellion_store::audit;
use sellion_tests::harness::{Client, Hospital, Reply};
use serde_json::{Value, json};
use uuid::Uuid;

const HEADER: &str = "staff_number,given_name,family_name,birth_date,unit,left_on\n";
const TYPE: &[(&str, &str)] = &[("content-type", "text/csv; charset=utf-8")];

fn preview(coordinator: &Client, query: &str, file: &[u8]) -> Reply {
    coordinator.send("POST", &format!("/api/v1/roster_imports/previews?{query}"), TYPE, Some(file))
}

fn import(coordinator: &Client, id: Uuid, query: &str, file: &[u8]) -> Reply {
    coordinator.send("POST", &format!("/api/v1/roster_imports?id={id}&{query}"), TYPE, Some(file))
}

fn people(coordinator: &Client) -> Vec<Value> {
    coordinator.get("/api/v1/people?limit=500").ok(200)["items"].as_array().unwrap().clone()
}

fn counts(of: &Value) -> [&Value; 4] {
    [&of["added_count"], &of["changed_count"], &of["unchanged_count"], &of["missing_count"]]
}

#[test]
fn a_roster_is_taken_and_taken_again_without_a_change() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = format!(
        "{HEADER}0047192,Ines,Valdrun,1988-04-17,Heron ward,\n0047193,Оксана,Гнатюк,,Kestrel ward,2027-01-31\n\
         47192,\"Roe, Ana\",Valdrun,,,\n"
    );
    let seen = preview(&coordinator, "", file.as_bytes()).ok(200);
    assert_eq!(counts(&seen), [&json!(3), &json!(0), &json!(0), &json!(0)]);
    assert_eq!((&seen["row_count"], &seen["problem_count"]), (&json!(3), &json!(0)));
    assert_eq!(seen["names_to_check"], json!(["Оксана Гнатюк"]));
    assert!(people(&coordinator).is_empty(), "a preview stores nothing");

    let id = Uuid::now_v7();
    let taken = import(&coordinator, id, "", file.as_bytes()).ok(201);
    assert_eq!(counts(&taken), [&json!(3), &json!(0), &json!(0), &json!(0)]);
    let stored = people(&coordinator);
    let numbers: Vec<&Value> = stored.iter().map(|person| &person["staff_number"]).collect();
    assert_eq!(numbers, ["0047192", "0047193", "47192"], "zeros are kept, in the file's order");
    assert_eq!(stored[1]["left_on"], "2027-01-31");
    assert_eq!(stored[2]["given_name"], "Roe, Ana");

    assert_eq!(import(&coordinator, id, "", file.as_bytes()).ok(201), taken, "a repeat gives the stored row");
    let again = import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).ok(201);
    assert_eq!(counts(&again), [&json!(0), &json!(0), &json!(3), &json!(0)]);
    assert_eq!(again["file_sha256"], taken["file_sha256"]);
    assert_eq!(people(&coordinator), stored, "the same file again changes nothing");
    import(&coordinator, id, "", format!("{file}9,New,Person,,,\n").as_bytes()).refused(409, "id_reused");
    let listed = hospital.signed_in(Role::Auditor).get("/api/v1/roster_imports").ok(200);
    assert_eq!(listed["items"], json!([taken, again]));

    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}

#[test]
fn a_later_file_changes_what_it_says_and_nobody_leaves_by_being_absent() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let first = format!("{HEADER}1,Ines,Valdrun,1988-04-17,Heron ward,\n2,Ana,Roe,,,\n3,Tomas,Brask,,,\n");
    import(&coordinator, Uuid::now_v7(), "", first.as_bytes()).ok(201);
    // Without columns of birth dates, units and last days: those stay as they are.
    let second = "staff_number,given_name,family_name\n1,Ines,Valdrun-Roe\n2,Ana,Roe\n4,Mira,Kell\n";
    let seen = preview(&coordinator, "", second.as_bytes()).ok(200);
    assert_eq!(counts(&seen), [&json!(1), &json!(1), &json!(1), &json!(1)]);
    let taken = import(&coordinator, Uuid::now_v7(), "", second.as_bytes()).ok(201);
    assert_eq!(counts(&taken), counts(&seen));
    let stored = people(&coordinator);
    assert_eq!(stored[0]["family_name"], "Valdrun-Roe");
    assert_eq!((&stored[0]["birth_month_day"], &stored[0]["unit"]), (&json!("04-17"), &json!("Heron ward")));
    assert_eq!((&stored[0]["version"], &stored[1]["version"]), (&json!(2), &json!(1)));
    assert_eq!(stored[2]["left_on"], Value::Null, "who is missing stays");

    let third = format!("{HEADER}3,Tomas,Brask,,,2027-01-31\n");
    import(&coordinator, Uuid::now_v7(), "", third.as_bytes()).ok(201);
    let back = format!("{HEADER}3,Tomas,Brask,,,\n");
    assert_eq!(people(&coordinator)[2]["left_on"], "2027-01-31");
    import(&coordinator, Uuid::now_v7(), "", back.as_bytes()).ok(201);
    assert_eq!(people(&coordinator)[2]["left_on"], Value::Null);
    let report = audit::verify(&mut hospital.db(), hospital.site_id, |_, _| {}).unwrap();
    assert!(report.broken.is_none(), "{:?}", report.broken);
}

#[test]
fn headers_marks_and_delimiters_are_understood_or_asked_about() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    for file in [
        "\u{feff}Personal-Nr.;Vorname;Nachname;Abteilung\r\n001;Ines;Valdrun;\"A, B\"\r\n",
        "Employee No\tFirst name\tSurname\tWard\n001\tInes\tValdrun\tA, B",
        "unit,FAMILY NAME,given_name,\"staff number\"\n\"A, B\", Valdrun ,Ines,001\n",
    ] {
        let seen = preview(&coordinator, "", file.as_bytes()).ok(200);
        assert_eq!((&seen["row_count"], &seen["problem_count"]), (&json!(1), &json!(0)), "{file:?}");
        import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).ok(201);
    }
    let stored = people(&coordinator);
    assert_eq!(stored.len(), 1, "three exports of the same person");
    assert_eq!((&stored[0]["unit"], &stored[0]["version"]), (&json!("A, B"), &json!(1)));

    let own = "Nr;Ruf;Nachname\n001;Ines;Valdrun\n";
    let problem = preview(&coordinator, "", own.as_bytes()).refused(422, "roster_column_missing");
    assert_eq!(
        (&problem["field"], &problem["columns"]),
        (&json!("staff_number"), &json!("Nr | Ruf | Nachname"))
    );
    let seen = preview(&coordinator, "staff_number=Nr&given_name=ruf", own.as_bytes()).ok(200);
    assert_eq!(
        seen["columns"],
        json!({ "staff_number": "Nr", "given_name": "Ruf", "family_name": "Nachname" })
    );
    preview(&coordinator, "staff_number=Number", own.as_bytes()).refused(422, "roster_column_missing");
    let twice = "staff_no,employee_no,first_name,surname\n";
    let problem = preview(&coordinator, "", twice.as_bytes()).refused(422, "roster_column_missing");
    assert!(problem["detail"].as_str().unwrap().contains("More than one"), "{problem}");
    preview(&coordinator, "", b"").refused(422, "roster_column_missing");
}

/// A file of `lines` lines, the header among them, with one of them replaced.
fn file_with(lines: usize, number: usize, line: &str) -> String {
    let good =
        (2..=lines).map(|at| if at == number { line.to_owned() } else { format!("{at:04},In,Va,,,\n") });
    HEADER.to_owned() + &good.collect::<String>()
}

#[test]
fn a_line_with_two_columns_too_few_is_named_and_nothing_is_stored() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = file_with(600, 317, "0317,Ines,Valdrun,1988-04-17\n");
    let problem =
        import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).refused(422, "roster_line_invalid");
    assert_eq!((&problem["line"], &problem["problem_count"]), (&json!(317), &json!(1)));
    assert_eq!(problem["problems"][0]["code"], "too_few_columns");
    assert!(people(&coordinator).is_empty(), "all or nothing");

    // RFC 4180 s.2 rule 6: cells between quotation marks may hold line breaks (fact 9.15); an editor counts them.
    let file = file.replace("0010,In,Va,,,", "0010,In,Va,,\"Heron\nward\",").replace("0011,In,Va,,,\n", "");
    let seen = preview(&coordinator, "", file.as_bytes()).ok(200);
    let told: Vec<(&Value, &Value)> =
        seen["problems"].as_array().unwrap().iter().map(|p| (&p["line"], &p["code"])).collect();
    assert_eq!(told, [(&json!(10), &json!("hidden_character")), (&json!(317), &json!("too_few_columns"))]);
}

#[test]
fn a_repeated_staff_number_names_both_lines() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = file_with(40, 33, "0012,Ana,Roe,,,\n");
    let problem =
        import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).refused(422, "roster_line_invalid");
    let repeated = &problem["problems"][0];
    assert_eq!((&repeated["line"], &repeated["code"]), (&json!(33), &json!("staff_number_repeated")));
    assert_eq!(repeated["column"], "staff_number");
    let message = repeated["message"].as_str().unwrap();
    assert!(message.contains("line 12") && message.contains("line 33"), "{message}");
}

#[test]
fn what_is_no_person_or_no_date_is_told_and_never_dropped() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    for (line, code) in [
        ("\n", "blank_line"),
        (",,,,,\n", "blank_line"),
        ("Total,,,,,600\n", "totals_row"),
        (",Total: ,,,,\n", "totals_row"),
        (HEADER, "header_again"),
        ("1,a,b,,,,x\n", "too_many_columns"),
        ("1,a,\"b,,,\n", "stray_quote"),
        (",a,b,,,\n", "staff_number_missing"),
        ("4.7E+04,a,b,,,\n", "staff_number_scientific"),
        ("1,, ,,,\n", "name_missing"),
        ("1,a,b,17.04.1988,,\n", "date_not_iso"),
        ("1,a,b,03/04/88,,\n", "date_not_iso"),
        ("1,a,b,1988-02-30,,\n", "date_not_iso"),
        ("1,a,b,0205-01-01,,\n", "date_implausible"),
        ("1,a,b,2190-01-01,,\n", "date_implausible"),
        ("1,a,b,,,leaver 31.6.\n", "date_not_iso"),
        ("1\u{200b},a,b,,,\n", "hidden_character"),
        ("1,a\0,b,,,\n", "hidden_character"),
        ("1,a,M\u{fffd}ller,,,\n", "hidden_character"),
    ] {
        let file = file_with(4, 3, line);
        let seen = preview(&coordinator, "", file.as_bytes()).ok(200);
        assert_eq!(seen["problems"][0]["code"], code, "{line:?}: {seen}");
        assert_eq!(seen["problems"][0]["line"], 3, "{line:?}: {seen}");
        import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).refused(422, "roster_line_invalid");
    }
    assert!(people(&coordinator).is_empty());
    let trailing = format!("{HEADER}1,a,b,,,\n\n");
    let seen = preview(&coordinator, "", trailing.as_bytes()).ok(200);
    assert_eq!((&seen["problems"][0]["line"], &seen["problem_count"]), (&json!(3), &json!(1)));
}

#[test]
fn two_hundred_problems_are_told_and_all_are_counted() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = HEADER.to_owned() + &"short,line\n".repeat(250);
    let problem =
        import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).refused(422, "roster_line_invalid");
    assert_eq!(problem["problem_count"], 250);
    assert_eq!(problem["problems"].as_array().unwrap().len(), 200);
}

#[test]
fn a_file_in_an_old_encoding_is_refused_by_line_and_byte() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let mut file = file_with(3, 3, "").into_bytes();
    let offset = file.len() + 4;
    file.extend_from_slice(b"9,Ra\xfal,Roe,,,\n");
    let problem = import(&coordinator, Uuid::now_v7(), "", &file).refused(422, "roster_not_text");
    assert_eq!((&problem["line"], &problem["byte_offset"]), (&json!(3), &json!(offset)));
}

#[test]
fn bodies_that_are_too_large_or_no_csv_and_callers_without_the_role_are_turned_away() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = format!("{HEADER}1,a,b,,,\n");
    let previews = "/api/v1/roster_imports/previews";
    let json = [("content-type", "application/json")];
    coordinator.send("POST", previews, &json, Some(file.as_bytes())).refused(415, "wrong_content_type");
    let path = "/api/v1/roster_imports";
    coordinator.send("POST", path, TYPE, Some(file.as_bytes())).refused(422, "invalid_value");
    let huge = vec![b'x'; 64 * 1024 * 1024 + 1];
    coordinator.send("POST", previews, TYPE, Some(&huge)).refused(413, "body_too_large");
    let desk = hospital.signed_in(Role::CheckIn);
    preview(&desk, "", file.as_bytes()).refused(403, "wrong_role");
    import(&desk, Uuid::now_v7(), "", file.as_bytes()).refused(403, "wrong_role");
    import(&hospital.nobody(), Uuid::now_v7(), "", file.as_bytes()).refused(401, "not_signed_in");
}

#[test]
fn each_site_has_its_own_roster() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let stranger = hospital.signed_in_at(hospital.another_site("Sallowmere"), &[Role::Coordinator]);
    let file = format!("{HEADER}1,Ines,Valdrun,,,\n");
    let id = Uuid::now_v7();
    import(&coordinator, id, "", file.as_bytes()).ok(201);
    import(&stranger, id, "", file.as_bytes()).refused(409, "id_reused");
    assert!(people(&stranger).is_empty(), "refused whole");
    let taken = import(&stranger, Uuid::now_v7(), "", file.as_bytes()).ok(201);
    assert_eq!(counts(&taken), [&json!(1), &json!(0), &json!(0), &json!(0)]);
    assert_eq!(stranger.get("/api/v1/roster_imports").ok(200)["items"], json!([taken]));
}

#[test]
fn two_imports_in_the_same_moment_add_nobody_twice() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = file_with(500, 0, "");
    let added: i64 = std::thread::scope(|scope| {
        let imports: Vec<_> = (0..4)
            .map(|_| scope.spawn(|| import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).ok(201)))
            .collect();
        imports.into_iter().map(|import| import.join().unwrap()["added_count"].as_i64().unwrap()).sum()
    });
    assert_eq!(added, 499);
}

#[test]
fn a_long_file_is_compared_before_the_database_has_counted_anything() {
    let hospital = Hospital::open();
    let coordinator = hospital.signed_in(Role::Coordinator);
    let file = file_with(20_000, 0, "");
    import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).ok(201);
    // Each row against each would take longer than a statement may.
    let again = import(&coordinator, Uuid::now_v7(), "", file.as_bytes()).ok(201);
    assert_eq!(counts(&again), [&json!(0), &json!(0), &json!(19_999), &json!(0)]);
}
