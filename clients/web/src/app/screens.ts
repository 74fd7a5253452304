// The one table of screens: where each lives, who may see it, and how it is loaded. Navigation, routes and the browser
// tests are made from it.
import type { ComponentType } from "preact";
import { lazy } from "preact-iso";
import type { OperationId } from "../api/client";
import { board } from "../words/board";
import { checkIn } from "../words/check-in";
import { lookBack } from "../words/look-back";
import { overlaps } from "../words/overlaps";
import { placeWords } from "../words/place";
import { reports } from "../words/reports";
import { station } from "../words/station";
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
    alone: true,
    at: "day",
    at: "station",
    component: screen(() => import("../screens/board/board")),
    component: screen(() => import("../screens/board/wall")),
    component: screen(() => import("../screens/look-back/choose")),
    component: screen(() => import("../screens/look-back/look-back")),
    component: screen(() => import("../screens/overlaps/overlaps")),
    component: screen(() => import("../screens/reports/reports")),
    component: screen(() => import("../screens/station/station")),
    component: screen(() => import("../screens/stores/bottle")),
    component: screen(() => import("../screens/stores/equipment")),
    component: screen(() => import("../screens/stores/lot")),
    component: screen(() => import("../screens/stores/lots")),
    component: screen(() => import("../screens/stores/one-equipment")),
    component: screen(() => import("../screens/stores/place-stock")),
    component: screen(() => import("../screens/stores/places")),
    component: screen(() => import("../screens/stores/receive")),
    component: screen(() => import("../screens/stores/stores")),
    component: screen(() => import("../screens/stores/usage")),
    group: "day",
    group: "records",
    group: "stores",
    name: board.nav,
    name: board.nav_wall,
    name: lookBack.nav,
    name: overlaps.nav,
    name: reports.nav,
    name: station.nav,
    name: stores.bottles,
    name: stores.nav,
    name: stores.nav_equipment,
    name: stores.nav_lots,
    name: stores.nav_places,
    name: stores.nav_receive,
    name: stores.nav_usage,
    needs: ["create_call", "read_station_plans", "append_attempt_events", "append_screening_events"],
    needs: ["create_lot"],
    needs: ["list_attempt_overlaps", "create_attempt_correction"],
    needs: ["list_bottles", "read_bottle_ledger"],
    needs: ["list_equipment"],
    needs: ["list_lots", "list_balances"],
    needs: ["list_lots", "list_bottles", "list_balances"],
    needs: ["list_places", "read_place_stock"],
    needs: ["read_board", "read_queue"],
    needs: ["read_board"],
    needs: ["read_forecast", "read_label", "list_lots"],
    needs: ["read_look_back", "list_lots", "list_equipment", "list_testers"],
    needs: ["read_report", "list_days"],
    needs: ["read_usage"],
    path: "/board",
    path: "/board/wall",
    path: "/look-back",
    path: "/look-back/:what/:id",
    path: "/overlaps",
    path: "/reports",
    path: "/station",
    path: "/stores",
    path: "/stores/bottles/:id",
    path: "/stores/equipment",
    path: "/stores/equipment/:id",
    path: "/stores/lots",
    path: "/stores/lots/:id",
    path: "/stores/places",
    path: "/stores/places/:id",
    path: "/stores/receive",
    path: "/stores/usage",
  {
  },
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
