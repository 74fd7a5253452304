// The one table of screens: where each lives, who may see it, and how it is loaded. Navigation, routes and the browser
// tests are made from it.
import type { ComponentType } from "preact";
import { lazy } from "preact-iso";
import type { OperationId } from "../api/client";
import { board } from "../words/board";
import { dayWords } from "../words/days";
import { deviceWords } from "../words/devices";
import { facePanelWords } from "../words/face-panel";
import { gateSetUp } from "../words/gate-set-up";
import { keyWords } from "../words/keys";
import { respiratorWords } from "../words/respirators";
import { ruleSetWords } from "../words/rule-sets";
import { siteWords } from "../words/site";
import { userWords } from "../words/users";
import { checkIn } from "../words/check-in";
import { lookBack } from "../words/look-back";
import { overlaps } from "../words/overlaps";
import { placeWords } from "../words/place";
import { reports } from "../words/reports";
import { station } from "../words/station";
import { preparationWords } from "../words/preparations";
import { stopWords } from "../words/stops";
import { stores } from "../words/stores";
import PlaceScreen from "../screens/place/place";
import { may } from "./session";

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
    path: "/set-up/days",
    name: dayWords.nav,
    needs: ["list_days", "create_day", "list_stations"],
    group: "set_up",
    component: screen(() => import("../screens/days/days")),
  },
  {
    path: "/set-up/days/:id",
    name: dayWords.nav,
    needs: ["list_days", "create_day", "list_stations"],
    component: screen(() => import("../screens/days/day")),
  },
  {
    path: "/set-up/respirators",
    name: respiratorWords.nav,
    needs: ["list_respirators", "update_respirator"],
    group: "set_up",
    component: screen(() => import("../screens/respirators/respirators")),
  },
  {
    path: "/set-up/gates",
    name: gateSetUp.nav,
    needs: ["list_gates", "list_gate_policies", "list_respirators"],
    group: "set_up",
    component: screen(() => import("../screens/gates/gates")),
  },
  {
    path: "/set-up/gates/:id",
    name: gateSetUp.nav,
    needs: ["list_gates", "list_gate_policies", "list_respirators"],
    component: screen(() => import("../screens/gates/gate")),
  },
  {
    path: "/set-up/gates/:id/policy",
    name: gateSetUp.nav,
    needs: ["create_gate_policy"],
    component: screen(() => import("../screens/gates/new-policy")),
  },
  {
    path: "/set-up/rule-sets",
    name: ruleSetWords.nav,
    needs: ["list_rule_sets", "read_rule_set"],
    group: "set_up",
    component: screen(() => import("../screens/rule-sets/rule-sets")),
  },
  {
    path: "/set-up/rule-sets/compare",
    name: ruleSetWords.compare,
    needs: ["list_rule_sets", "read_rule_set"],
    component: screen(() => import("../screens/rule-sets/compare-sets")),
  },
  {
    path: "/set-up/rule-sets/new",
    name: ruleSetWords.upload,
    needs: ["create_rule_set"],
    component: screen(() => import("../screens/rule-sets/new-rule-set")),
  },
  {
    path: "/set-up/rule-sets/one",
    name: ruleSetWords.nav,
    needs: ["list_rule_sets", "read_rule_set"],
    component: screen(() => import("../screens/rule-sets/rule-set")),
  },
  {
    path: "/set-up/face-panel",
    name: facePanelWords.nav,
    needs: ["create_face_panel"],
    group: "set_up",
    component: screen(() => import("../screens/face-panel/face-panel")),
  },
  {
    path: "/set-up/users",
    name: userWords.nav,
    needs: ["list_users"],
    group: "set_up",
    component: screen(() => import("../screens/users/users")),
  },
  {
    path: "/set-up/devices",
    name: deviceWords.nav,
    needs: ["list_devices"],
    group: "set_up",
    component: screen(() => import("../screens/devices/devices")),
  },
  {
    path: "/set-up/keys",
    name: keyWords.nav,
    needs: ["list_devices"],
    group: "set_up",
    component: screen(() => import("../screens/keys/keys")),
  },
  {
    path: "/set-up/site",
    name: siteWords.nav,
    needs: ["read_current_site", "update_current_site"],
    group: "set_up",
    component: screen(() => import("../screens/site/site")),
  },
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
