//! Printing: papers, begun sheets, printers and their dots, slips, proof sheets.

use sellion_rules::roles::Role;
use sellion_tests::harness::{Client, Hospital, Reply};
use serde_json::{Value, json};

fn issued(hospital: &Hospital, desk: &Client, count: usize) -> Vec<Value> {
    let respirator = hospital.db_respirator(1);
    let badge = |number: usize| {
        let person = hospital.db_named_person("Ines", &format!("Valdrun {number}"));
        hospital.db_clear(person, respirator);
        hospital.badge(desk, person)["id"].clone()
    };
    (0..count).map(badge).collect()
}

fn pages(reply: &Reply) -> usize {
    assert_eq!(
        (reply.status, reply.header("content-type")),
        (200, Some("application/pdf")),
        "{}",
        reply.text()
    );
    String::from_utf8_lossy(&reply.body).matches("/MediaBox").count()
}

#[test]
fn a_begun_sheet_is_filled_from_its_first_free_place() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let ids = issued(&hospital, &desk, 4);
    let sheet = |layout: &str, first_place: i32| {
        let body = json!({ "layout": layout, "first_place": first_place, "badge_ids": ids });
        desk.post("/api/v1/badge_sheets", &body)
    };
    assert_eq!(pages(&sheet("letter_sheet", 6)), 1);
    assert_eq!(pages(&sheet("a4_sheet", 7)), 2);
    let problem = sheet("a4_sheet", 10).refused(422, "invalid_value");
    assert_eq!(problem["field"], "first_place");
    sheet("card", 1).refused(422, "invalid_value");
    sheet("card", -1).refused(400, "bad_json");
    assert_eq!(pages(&sheet("slip", 0)), 4, "a slip for each");
    assert_eq!(pages(&sheet("letter_single", 0)), 4);
}

/// Fact 7.24: modules of four dots or more, where they fit.
#[test]
fn codes_are_made_for_the_dots_of_the_printer() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let ids = issued(&hospital, &desk, 1);
    for (dots_per_inch, least) in [(203, 4), (300, 4), (600, 8)] {
        let body = json!({
            "layout": "card", "badge_ids": ids,
            "printer": { "dots_per_inch": dots_per_inch, "offset_x_mm": 0.5, "offset_y_mm": -0.25 },
        });
        let reply = desk.post("/api/v1/badge_sheets", &body);
        assert_eq!(pages(&reply), 1);
        let dots: u32 = reply.header("sellion-module-dots").unwrap().parse().unwrap();
        let mm: f32 = reply.header("sellion-module-mm").unwrap().parse().unwrap();
        assert!(dots >= least && mm >= 0.33, "{dots} dots, {mm} mm at {dots_per_inch} dpi");
    }
    for (printer, field) in [
        (json!({ "dots_per_inch": 299 }), "dots_per_inch"),
        (json!({ "offset_x_mm": 10.5 }), "offset_x_mm"),
        (json!({ "offset_y_mm": -11 }), "offset_y_mm"),
    ] {
        let body = json!({ "layout": "card", "badge_ids": ids, "printer": printer });
        let problem = desk.post("/api/v1/badge_sheets", &body).refused(422, "invalid_value");
        assert_eq!(problem["field"], field);
        let proof = desk.post("/api/v1/proof_sheets", &json!({ "layout": "card", "printer": printer }));
        assert_eq!(proof.refused(422, "invalid_value")["field"], field);
    }
}

#[test]
fn a_proof_sheet_comes_before_the_first_badge() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    for layout in ["card", "a4_sheet", "letter_sheet", "a4_single", "letter_single", "slip"] {
        let printer = json!({ "dots_per_inch": 600, "offset_x_mm": -0.4 });
        let reply = desk.post("/api/v1/proof_sheets", &json!({ "layout": layout, "printer": printer }));
        assert_eq!(pages(&reply), 1, "{layout}");
    }
    desk.post("/api/v1/proof_sheets", &json!({ "layout": "poster" })).refused(400, "bad_json");
    let tester = hospital.signed_in(Role::Tester);
    tester.post("/api/v1/proof_sheets", &json!({ "layout": "card" })).refused(403, "wrong_role");
}
