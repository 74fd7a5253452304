// The one table of screens: where each lives, who may see it, and how it is loaded. Navigation, routes and the browser
// tests are made from it.
import type { ComponentType } from "preact";
import { lazy } from "preact-iso";
import type { OperationId } from "../api/client";
import { audit } from "../words/audit";
import { badgeSteps } from "../words/badge-steps";
import { badges } from "../words/badges";
import { board } from "../words/board";
import { checkIn } from "../words/check-in";
import { due } from "../words/due";
import { figures } from "../words/figures";
import { gateRecords } from "../words/gate-records";
import { gate } from "../words/gate";
import { lookBack } from "../words/look-back";
import { outlook } from "../words/outlook";
import { overlaps } from "../words/overlaps";
import { person } from "../words/person";
import { placeWords } from "../words/place";
import { preparationWords } from "../words/preparations";
import { records } from "../words/records";
import { reports } from "../words/reports";
import { reviews } from "../words/reviews";
import { roster } from "../words/roster";
import { station } from "../words/station";
import { stopWords } from "../words/stops";
import { stores } from "../words/stores";
import PlaceScreen from "../screens/place/place";
import { may } from "./session";
import { SET_UP_SCREENS } from "./set-up-screens";

/** Where the navigation shows a screen; the order here is the order there. */
export const GROUPS = ["day", "people", "stores", "gates", "records", "set_up"] as const;
export type Group = (typeof GROUPS)[number];

export interface Screen {
  /** Below /screens; `:id` marks what is filled in. */
  path: string;
  /** Its name in the navigation; the screen's own title may be a question. */
  name: () => string;
  /** Every operation the screen cannot do without: whoever may not call one of them does not see the screen. */
  needs: readonly OperationId[];
  /** Its place in the navigation; without one it is reached from another screen. */
  group?: Group;
  /** What the screen works at: it is asked for before the screen is shown. */
  at?: "day" | "station";
  /** Fills the whole window, without navigation: stations and gates. */
  alone?: boolean;
  /** Takes what `:id` and the like stand for with `useRoute().params`. */
  component: ComponentType;
}

/** A screen whose code is fetched when it is first shown. */
const screen = (load: () => Promise<{ default: ComponentType }>) => lazy(load);

export const SCREENS: readonly Screen[] = [
  {
    path: "/check-in",
    name: checkIn.nav,
    needs: ["list_people", "create_visit", "list_visits", "read_queue"],
    group: "day",
    at: "day",
    component: screen(() => import("../screens/check-in/check-in")),
  },
  {
    path: "/board",
    name: board.nav,
    needs: ["read_board", "read_queue"],
    group: "day",
    at: "day",
    component: screen(() => import("../screens/board/board")),
  },
  {
    path: "/board/wall",
    name: board.nav_wall,
    needs: ["read_board"],
    at: "day",
    alone: true,
    component: screen(() => import("../screens/board/wall")),
  },
  {
    path: "/stores",
    name: stores.nav,
    needs: ["read_forecast", "read_label", "list_lots"],
    group: "stores",
    at: "day",
    component: screen(() => import("../screens/stores/stores")),
  },
  {
    path: "/stores/lots",
    name: stores.nav_lots,
    needs: ["list_lots", "list_balances"],
    group: "stores",
    component: screen(() => import("../screens/stores/lots")),
  },
  {
    path: "/stores/lots/:id",
    name: stores.nav_lots,
    needs: ["list_lots", "list_bottles", "list_balances"],
    component: screen(() => import("../screens/stores/lot")),
  },
  {
    path: "/stores/receive",
    name: stores.nav_receive,
    needs: ["create_lot"],
    component: screen(() => import("../screens/stores/receive")),
  },
  {
    path: "/stores/prepare",
    name: preparationWords.nav,
    needs: ["create_preparation"],
    component: screen(() => import("../screens/stores/prepare")),
  },
  {
    path: "/stores/stops",
    name: stopWords.nav,
    needs: ["list_stops", "list_equipment", "list_testers"],
    group: "stores",
    component: screen(() => import("../screens/stops/stops")),
  },
  {
    path: "/stores/bottles/:id",
    name: stores.bottles,
    needs: ["list_bottles", "read_bottle_ledger"],
    component: screen(() => import("../screens/stores/bottle")),
  },
  {
    path: "/stores/equipment",
    name: stores.nav_equipment,
    needs: ["list_equipment"],
    group: "stores",
    component: screen(() => import("../screens/stores/equipment")),
  },
  {
    path: "/stores/equipment/:id",
    name: stores.nav_equipment,
    needs: ["list_equipment"],
    component: screen(() => import("../screens/stores/one-equipment")),
  },
  {
    path: "/stores/places",
    name: stores.nav_places,
    needs: ["list_places", "read_place_stock"],
    group: "stores",
    component: screen(() => import("../screens/stores/places")),
  },
  {
    path: "/stores/places/:id",
    name: stores.nav_places,
    needs: ["list_places", "read_place_stock"],
    component: screen(() => import("../screens/stores/place-stock")),
  },
  {
    path: "/stores/usage",
    name: stores.nav_usage,
    needs: ["read_usage"],
    group: "stores",
    component: screen(() => import("../screens/stores/usage")),
  },
  {
    path: "/people",
    name: person.nav,
    needs: ["list_people", "read_person"],
    group: "people",
    component: screen(() => import("../screens/people/people")),
  },
  {
    path: "/people/:id",
    name: person.nav,
    needs: ["list_people", "read_person"],
    component: screen(() => import("../screens/people/one-person")),
  },
  {
    path: "/due",
    name: due.nav,
    needs: ["read_gate_outlook", "list_gates", "list_people"],
    group: "people",
    component: screen(() => import("../screens/due/due")),
  },
  {
    path: "/roster",
    name: roster.title,
    needs: ["preview_roster_import", "create_roster_import", "list_roster_imports"],
    component: screen(() => import("../screens/roster/roster")),
  },
  {
    path: "/outlook",
    name: outlook.nav,
    needs: ["read_gate_outlook_counts", "list_gates", "list_gate_policies"],
    group: "gates",
    component: screen(() => import("../screens/outlook/outlook")),
  },
  {
    path: "/reviews",
    name: reviews.nav,
    needs: ["list_lead_entries", "list_twin_notices"],
    group: "gates",
    component: screen(() => import("../screens/reviews/reviews")),
  },
  {
    path: "/records",
    name: records.nav,
    needs: ["list_attempts", "list_days", "list_people"],
    group: "records",
    component: screen(() => import("../screens/records/records")),
  },
  {
    path: "/records/attempts/:id",
    name: records.nav,
    needs: ["read_attempt", "read_person", "read_visit"],
    component: screen(() => import("../screens/records/attempt")),
  },
  {
    path: "/records/gates",
    name: gateRecords.nav,
    needs: ["list_gates", "list_gate_clearances", "list_scans", "list_scan_comparisons", "read_badge"],
    group: "records",
    component: screen(() => import("../screens/gate-records/gate-records")),
  },
  {
    path: "/records/audit",
    name: audit.nav,
    needs: ["list_audit_rows", "list_users"],
    group: "records",
    component: screen(() => import("../screens/records/audit")),
  },
  {
    path: "/look-back",
    name: lookBack.nav,
    needs: ["read_look_back", "list_lots", "list_equipment", "list_testers"],
    group: "records",
    component: screen(() => import("../screens/look-back/choose")),
  },
  {
    path: "/look-back/:what/:id",
    name: lookBack.nav,
    needs: ["read_look_back", "list_lots", "list_equipment", "list_testers"],
    component: screen(() => import("../screens/look-back/look-back")),
  },
  {
    path: "/reports",
    name: reports.nav,
    needs: ["read_report", "list_days"],
    group: "records",
    component: screen(() => import("../screens/reports/reports")),
  },
  {
    path: "/station",
    name: station.nav,
    needs: ["create_call", "read_station_plans", "append_attempt_events", "append_screening_events"],
    group: "day",
    at: "station",
    alone: true,
    component: screen(() => import("../screens/station/station")),
  },
  {
    path: "/overlaps",
    name: overlaps.nav,
    needs: ["list_attempt_overlaps", "create_attempt_correction"],
    group: "day",
    at: "day",
    component: screen(() => import("../screens/overlaps/overlaps")),
  },
  {
    path: "/badges",
    name: badges.nav,
    needs: ["list_badges_due", "create_badge_batch", "read_badge_code", "create_badge_hand_over"],
    group: "gates",
    at: "day",
    component: screen(() => import("../screens/badges/desk")),
  },
  {
    path: "/badges/batches/:id",
    name: badges.nav,
    needs: ["read_badge_batch", "read_badge_batch_sheet"],
    component: screen(() => import("../screens/badges/batch")),
  },
  {
    path: "/badges/one/:id",
    name: badges.nav,
    needs: ["read_badge", "create_badge_reprint", "create_badge_sheet", "create_badge_hold"],
    component: screen(() => import("../screens/badges/badge")),
  },
  {
    path: "/badges/at-once",
    name: badgeSteps.once_nav,
    needs: ["create_badge", "create_badge_sheet", "list_people", "list_clearances", "list_badges"],
    group: "gates",
    component: screen(() => import("../screens/badges/at-once")),
  },
  {
    path: "/badges/at-once/:id",
    name: badgeSteps.once_nav,
    needs: ["create_badge", "create_badge_sheet", "read_person", "list_clearances", "list_badges"],
    component: screen(() => import("../screens/badges/at-once")),
  },
  {
    path: "/badges/unclaimed",
    name: badges.unclaimed_nav,
    needs: ["list_unclaimed_badges", "read_badge", "create_badge_reprint"],
    group: "gates",
    component: screen(() => import("../screens/badges/unclaimed")),
  },
  {
    path: "/badges/lost",
    name: badges.lost_nav,
    needs: ["create_lost_badge", "create_badge_find", "list_badge_finds", "list_people"],
    group: "gates",
    component: screen(() => import("../screens/badges/lost")),
  },
  {
    path: "/figures/badges",
    name: figures.badges_nav,
    needs: ["read_badge_figures"],
    group: "gates",
    component: screen(() => import("../screens/figures/badge-figures")),
  },
  {
    path: "/figures/gates",
    name: figures.gates_nav,
    needs: ["read_gate_figures", "list_gates"],
    group: "gates",
    component: screen(() => import("../screens/figures/gate-figures")),
  },
  {
    path: "/gate",
    name: gate.nav,
    needs: ["create_scan", "create_lead_entry", "read_gate_pack"],
    group: "gates",
    alone: true,
    component: screen(() => import("../screens/gate/gate-screen")),
  },
  ...SET_UP_SCREENS,
  {
    path: "/place",
    name: placeWords.title,
    needs: ["list_days", "list_stations"],
    component: PlaceScreen,
  },
];

/** The address of a screen. */
export const to = (path: string): string => `/screens${path}`;

/** Whether whoever is signed in may see the screen. */
export const visible = (one: Screen): boolean => one.needs.every(may);
