//! Private keys: sealed in the database, and opened by one secret only.

use diesel::{RunQueryDsl, sql_types::Text};
use sellion_rules::roles::Role;
use sellion_tests::harness::Hospital;
use sellion_web::Secret;

#[derive(diesel::QueryableByName)]
struct Dump {
    #[diesel(sql_type = Text)]
    row: String,
}

#[test]
fn no_private_key_is_in_the_database_in_clear() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    hospital.badge(&desk, person);
    let dump: Vec<Dump> =
        diesel::sql_query("select k::text as row from signing_keys k").load(&mut hospital.db()).unwrap();
    let [Dump { row }] = &dump[..] else { panic!("one key") };
    // RFC 5915 s.3 and RFC 5958 s.2: the object identifiers that stand in every unsealed P-256 key.
    for clear in ["2a8648ce3d030107", "2a8648ce3d0201", "BEGIN", "\"d\""] {
        assert!(!row.contains(clear), "{clear}");
    }
}

#[test]
fn another_secret_opens_no_key_and_says_so() {
    let hospital = Hospital::open();
    let desk = hospital.signed_in(Role::BadgeDesk);
    let mut conn = hospital.db();
    sellion_web::check_signing_keys(&mut conn, &Secret::generate().unwrap())
        .expect("no key, nothing to open");
    let (person, respirator) = (hospital.db_named_person("Ines", "Valdrun"), hospital.db_respirator(1));
    hospital.db_clear(person, respirator);
    hospital.badge(&desk, person);
    sellion_web::check_signing_keys(&mut conn, hospital.secret()).expect("its own key");
    let error = sellion_web::check_signing_keys(&mut conn, &Secret::generate().unwrap()).unwrap_err();
    assert!(error.to_string().contains("another secret"), "{error}");
}
