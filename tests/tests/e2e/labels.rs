//! Labels: of supply boxes as scanners read them, and our own.

use sellion_badge::label::{Label, LabelKind};
use sellion_rules::roles::Role;
use sellion_tests::harness::{
    Client, Hospital,
    day::{id_of, lot_body},
};
use serde_json::{Value, json};
use uuid::Uuid;

fn reads(client: &Client, text: &str) -> Value {
    client.post("/api/v1/label_readings", &json!({ "text": text })).ok(200)
}

/// Element strings as scanners send them (GS1 General Specifications; facts 8.2 and 8.3). The trade item number is an
/// invented one with a right check digit.
#[test]
fn a_lot_is_received_by_one_scan_of_its_box() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let mut body = lot_body("saccharin", "test", "2099-08", hospital.now());
    for member in ["lot_number", "lot_number_again", "printed_expiry", "printed_expiry_again"] {
        body.as_object_mut().unwrap().remove(member);
    }
    body["label"] = json!("010950600013437517280800\u{1d}10SB-2231");
    let problem = storekeeper.post("/api/v1/lots", &body).refused(422, "label_unreadable");
    assert_eq!(problem["field"], "label");
    body["label"] = json!("010950600013437617280800");
    storekeeper.post("/api/v1/lots", &body).refused(422, "label_unreadable");
    body["label"] = json!("01095060001343761728080010SB-2231");
    let lot = storekeeper.post("/api/v1/lots", &body).ok(201);
    for (member, value) in [
        ("lot_number", "SB-2231"),
        ("gtin", "09506000134376"),
        ("printed_expiry", "2028-08"),
        ("expires_on", "2028-08-31"),
        ("label_read", "scanned"),
    ] {
        assert_eq!(lot[member], value, "{lot}");
    }
    let mut other = body.clone();
    other["id"] = json!(Uuid::now_v7());
    other["label"] = json!("01095060001343761728080010SB-2232");
    other["lot_number"] = json!("SB-2233");
    let problem = storekeeper.post("/api/v1/lots", &other).refused(422, "invalid_value");
    assert_eq!(problem["field"], "lot_number", "what was typed has to say the same");
    other["lot_number"] = json!("SB-2232");
    other["printed_expiry"] = json!("2028-09");
    let problem = storekeeper.post("/api/v1/lots", &other).refused(422, "invalid_value");
    assert_eq!(problem["field"], "printed_expiry");

    let read = reads(&storekeeper, "(01)09506000134376(17)280800(10)SB-2231(30)12");
    assert_eq!(read["lots"][0]["id"], lot["id"], "{read}");
    assert_eq!(
        (&read["supply"]["count"], &read["supply"]["expiry"]["yymmdd"]),
        (&json!(12), &json!("280800"))
    );
    storekeeper
        .post("/api/v1/label_readings", &json!({ "text": "nothing known" }))
        .refused(422, "label_unreadable");
}

#[test]
fn one_scan_of_our_own_label_names_the_thing() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let bottle = hospital.bottle(&hospital.lot("saccharin", "test"));
    let (nebulizer, hood) = (hospital.equipment("nebulizer", "1 test"), hospital.equipment("hood", "H1"));
    let text = Label { kind: LabelKind::Bottle, id: id_of(&bottle) }.text();
    assert_eq!(reads(&storekeeper, &text)["bottle"]["id"], bottle["id"]);
    assert_eq!(
        reads(&storekeeper, &text.to_lowercase())["bottle"]["id"],
        bottle["id"],
        "typed in small letters"
    );
    let text = Label { kind: LabelKind::Hood, id: id_of(&hood) }.text();
    assert_eq!(reads(&storekeeper, &text)["equipment"][0]["label"], "H1");
    assert_eq!(reads(&storekeeper, "1 test")["equipment"][0]["id"], nebulizer["id"]);
    assert_eq!(reads(&storekeeper, bottle["label"].as_str().unwrap())["bottle"]["id"], bottle["id"]);
    let gone = Label { kind: LabelKind::Nebulizer, id: Uuid::now_v7() }.text();
    storekeeper.post("/api/v1/label_readings", &json!({ "text": gone })).refused(404, "not_found");
    let mut wrong = gone.clone();
    wrong.replace_range(10..11, if &gone[10..11] == "A" { "B" } else { "A" });
    storekeeper.post("/api/v1/label_readings", &json!({ "text": wrong })).refused(422, "label_unreadable");
    let stranger = hospital.signed_in_at(hospital.another_site("Ostrel"), &[Role::Storekeeper]);
    let text = Label { kind: LabelKind::Bottle, id: id_of(&bottle) }.text();
    stranger.post("/api/v1/label_readings", &json!({ "text": text })).refused(404, "not_found");
}

#[test]
fn labels_are_printed_from_any_place_of_a_sheet() {
    let hospital = Hospital::open();
    let storekeeper = hospital.signed_in(Role::Storekeeper);
    let bottle = hospital.bottle(&hospital.lot("saccharin", "screening"));
    let (nebulizer, hood) = (hospital.equipment("nebulizer", "1 test"), hospital.equipment("hood", "H1"));
    let sheet = json!({
        "paper": "a4", "first_place": 4, "bottle_ids": [bottle["id"]],
        "equipment_ids": [nebulizer["id"], hood["id"]],
    });
    let pdf = storekeeper.post("/api/v1/label_sheets", &sheet);
    assert_eq!((pdf.status, &pdf.body[..5]), (200, &b"%PDF-"[..]));
    let mut wrong = sheet.clone();
    wrong["first_place"] = json!(21);
    assert_eq!(
        storekeeper.post("/api/v1/label_sheets", &wrong).refused(422, "invalid_value")["field"],
        "first_place"
    );
    let none = json!({ "paper": "letter" });
    storekeeper.post("/api/v1/label_sheets", &none).refused(422, "invalid_value");
    let mut unknown = sheet;
    unknown["bottle_ids"] = json!([Uuid::now_v7()]);
    storekeeper.post("/api/v1/label_sheets", &unknown).refused(404, "not_found");
}
