//! The one list of operations. Routing and the OpenAPI document are both made from it.

use actix_web::{
    HttpRequest, HttpResponse,
    dev::ResourceDef,
    http::header,
    web::{Data, ServiceConfig, to},
};
use utoipa::OpenApi;

macro_rules! operations {
    ($($module:ident :: $handler:ident),* $(,)?) => {
        /// Puts every operation where its attribute says.
        fn operations(config: &mut ServiceConfig) {
            $( config.service(crate::$module::$handler); )*
        }

        /// Every operation, for the OpenAPI document.
        #[derive(OpenApi)]
        #[openapi(paths($( crate::$module::$handler ),*))]
        pub(crate) struct Operations;

        /// The recorded example of every operation, by operation id. A new operation's file begins as `{}`.
        pub(crate) const EXAMPLES: &[(&str, &str)] = &[$((
            stringify!($handler),
            include_str!(concat!(
                env!("CARGO_MANIFEST_DIR"), "/../../api-spec/examples/", stringify!($handler), ".json"
            )),
        )),*];
    };
}

// One noun to a line, nouns in the order in which a day meets them.
operations![
    session::create_session,
    session::read_current_session,
    session::delete_current_session,
    stream::read_stream,
    site::read_current_site,
    site::update_current_site,
    user::list_users,
    user::create_user,
    user::update_user,
    device::list_devices,
    device::create_device,
    device::delete_device,
    audit::list_audit_rows,
    rule_set::list_rule_sets,
    rule_set::read_rule_set,
    rule_set::create_rule_set,
    roster::preview_roster_import,
    roster::create_roster_import,
    roster::list_roster_imports,
    person::list_people,
    person::create_person,
    person::read_person,
    person::update_person,
    permission::list_permissions,
    permission::create_permission,
    respirator::list_respirators,
    respirator::create_respirator,
    respirator::read_respirator,
    respirator::update_respirator,
    day::list_days,
    day::create_day,
    day::read_day,
    day::update_day,
    station::list_stations,
    station::create_station,
    station::update_station,
    station::read_station_plans,
    visit::create_visit,
    visit::list_visits,
    visit::read_visit,
    visit::create_visit_answers,
    visit::create_visit_return,
    call::read_queue,
    call::create_call,
    board::read_board,
    alarm::create_alarm_acknowledgement,
    report::read_report,
    referral::list_referrals,
    referral::create_referral,
    lot::list_lots,
    lot::create_lot,
    preparation::create_preparation,
    lot_stop::create_lot_stop,
    lot_stop::create_lot_release,
    lot_stop::list_lot_stops,
    stop::create_stop,
    stop::create_stop_release,
    stop::list_stops,
    fill_gap::create_fill_gap,
    fill_gap::list_fill_gaps,
    look_back::read_look_back,
    look_back::read_look_back_export,
    look_back::read_look_back_counts,
    tester::list_testers,
    runner_list::read_runner_list,
    bottle::list_bottles,
    bottle::create_bottle,
    bottle::create_bottle_opening,
    fill::list_fills,
    fill::create_fill,
    fill::create_fill_emptying,
    label::read_label,
    label::create_label_sheet,
    place::list_places,
    place::create_place,
    place::update_place,
    place::read_place_stock,
    placement::create_bottle_placement,
    placement::create_equipment_placement,
    equipment::list_equipment,
    equipment::create_equipment,
    equipment::list_equipment_checks,
    equipment::create_equipment_check,
    equipment::read_equipment_review,
    weighing::list_squeeze_weighings,
    weighing::create_squeeze_weighing,
    movement::create_bottle_movement,
    movement::create_lot_movement,
    balance::list_balances,
    balance::read_bottle_ledger,
    balance::read_lot_ledger,
    usage::read_usage,
    forecast::read_forecast,
    screening::create_screening,
    screening::read_screening,
    screening::append_screening_events,
    attempt::create_attempt,
    attempt::list_attempts,
    attempt::read_attempt,
    attempt::append_attempt_events,
    attempt::create_attempt_correction,
    overlap::list_attempt_overlaps,
    size_hint::create_face_panel,
    size_hint::read_size_hints,
    reading_file::list_reading_mappings,
    reading_file::create_reading_mapping,
    reading_file::preview_reading_file,
    reading_file::create_reading_file,
    recording::read_attempt_record,
    recording::create_attempt_recording,
    recording::read_attempt_recording,
    clearance::list_clearances,
    clearance::list_gate_clearances,
    badge::list_badges,
    badge::create_badge,
    badge::read_badge,
    badge::end_badge,
    badge_hold::create_badge_hold,
    badge_hold::create_badge_hold_release,
    badge_reprint::create_badge_reprint,
    badge_reprint::create_lost_badge,
    badge_find::create_badge_find,
    badge_find::list_badge_finds,
    badge_hand_over::read_badge_code,
    badge_hand_over::create_badge_hand_over,
    badge_hand_over::list_unclaimed_badges,
    badge_figure::read_badge_figures,
    badge_due::list_badges_due,
    badge_batch::create_badge_batch,
    badge_batch::list_badge_batches,
    badge_batch::read_badge_batch,
    badge_batch::read_badge_batch_sheet,
    badge_sheet::create_badge_sheet,
    proof_sheet::create_proof_sheet,
    keys::read_jwks,
    signing_key::list_signing_keys,
    status_list::read_status_list,
    gate::list_gates,
    gate::create_gate,
    gate::update_gate,
    policy::list_gate_policies,
    policy::create_gate_policy,
    gate_pack::read_gate_pack,
    scan::create_scan,
    scan::list_scans,
    scan::list_scan_comparisons,
    scan::read_gate_figures,
    outlook::read_gate_outlook,
    outlook::read_gate_outlook_counts,
    lead_entry::create_lead_entry,
    lead_entry::list_lead_entries,
    lead_entry::create_lead_entry_review,
    walking_time::list_walking_times,
    walking_time::create_walking_time,
    twin_notice::list_twin_notices,
    twin_notice::create_twin_notice_review,
    health::read_liveness,
    health::read_readiness,
];

/// All routes: the operations, the screens, and the pages that document the API.
pub(crate) fn configure(config: &mut ServiceConfig) {
    operations(config);
    let document = crate::spec::document();
    config.app_data(Data::new(Addresses::of(&document)));
    crate::pages::configure(config);
    crate::screens::configure(config);
    crate::spec::configure(config, document);
    config.default_service(to(elsewhere));
}

/// Every documented address with the methods it takes.
struct Addresses(Vec<(ResourceDef, Vec<&'static str>)>);

impl Addresses {
    fn of(document: &utoipa::openapi::OpenApi) -> Self {
        let methods = |item: &utoipa::openapi::PathItem| {
            let taken = [
                ("DELETE", &item.delete),
                ("GET, HEAD", &item.get),
                ("PATCH", &item.patch),
                ("POST", &item.post),
                ("PUT", &item.put),
            ];
            taken.into_iter().filter(|(_, operation)| operation.is_some()).map(|(method, _)| method).collect()
        };
        let paths = document.paths.paths.iter();
        Self(paths.map(|(path, item)| (ResourceDef::new(path.as_str()), methods(item))).collect())
    }
}

/// What no operation took: an address that is not there, or one that does not take this method.
async fn elsewhere(request: HttpRequest, addresses: Data<Addresses>) -> HttpResponse {
    match addresses.0.iter().find(|(address, _)| address.is_match(request.path())) {
        Some((_, methods)) => {
            HttpResponse::MethodNotAllowed().insert_header((header::ALLOW, methods.join(", "))).finish()
        }
        None => HttpResponse::NotFound().finish(),
    }
}
