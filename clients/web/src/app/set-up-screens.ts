// The screens on which a hospital is set up.
import { lazy } from "preact-iso";
import { dayWords } from "../words/days";
import { deviceWords } from "../words/devices";
import { facePanelWords } from "../words/face-panel";
import { gateSetUp } from "../words/gate-set-up";
import { keyWords } from "../words/keys";
import { readings } from "../words/readings";
import { respiratorWords } from "../words/respirators";
import { ruleSetWords } from "../words/rule-sets";
import { siteWords } from "../words/site";
import { userWords } from "../words/users";
import type { Screen } from "./screens";

export const SET_UP_SCREENS: readonly Screen[] = [
  {
    path: "/set-up/days",
    name: dayWords.nav,
    needs: ["list_days", "create_day", "list_stations"],
    group: "set_up",
    component: lazy(() => import("../screens/days/days")),
  },
  {
    path: "/set-up/days/:id",
    name: dayWords.nav,
    needs: ["list_days", "create_day", "list_stations"],
    component: lazy(() => import("../screens/days/day")),
  },
  {
    path: "/set-up/respirators",
    name: respiratorWords.nav,
    needs: ["list_respirators", "update_respirator"],
    group: "set_up",
    component: lazy(() => import("../screens/respirators/respirators")),
  },
  {
    path: "/set-up/gates",
    name: gateSetUp.nav,
    needs: ["list_gates", "list_gate_policies", "list_respirators"],
    group: "set_up",
    component: lazy(() => import("../screens/gates/gates")),
  },
  {
    path: "/set-up/gates/:id",
    name: gateSetUp.nav,
    needs: ["list_gates", "list_gate_policies", "list_respirators"],
    component: lazy(() => import("../screens/gates/gate")),
  },
  {
    path: "/set-up/gates/:id/policy",
    name: gateSetUp.nav,
    needs: ["create_gate_policy"],
    component: lazy(() => import("../screens/gates/new-policy")),
  },
  {
    path: "/set-up/rule-sets",
    name: ruleSetWords.nav,
    needs: ["list_rule_sets", "read_rule_set"],
    group: "set_up",
    component: lazy(() => import("../screens/rule-sets/rule-sets")),
  },
  {
    path: "/set-up/rule-sets/compare",
    name: ruleSetWords.compare,
    needs: ["list_rule_sets", "read_rule_set"],
    component: lazy(() => import("../screens/rule-sets/compare-sets")),
  },
  {
    path: "/set-up/rule-sets/new",
    name: ruleSetWords.upload,
    needs: ["create_rule_set"],
    component: lazy(() => import("../screens/rule-sets/new-rule-set")),
  },
  {
    path: "/set-up/rule-sets/one",
    name: ruleSetWords.nav,
    needs: ["list_rule_sets", "read_rule_set"],
    component: lazy(() => import("../screens/rule-sets/rule-set")),
  },
  {
    path: "/set-up/reading-mappings",
    name: readings.nav,
    needs: ["list_reading_mappings"],
    group: "set_up",
    component: lazy(() => import("../screens/readings/mappings")),
  },
  {
    path: "/set-up/face-panel",
    name: facePanelWords.nav,
    needs: ["create_face_panel"],
    group: "set_up",
    component: lazy(() => import("../screens/face-panel/face-panel")),
  },
  {
    path: "/set-up/users",
    name: userWords.nav,
    needs: ["list_users"],
    group: "set_up",
    component: lazy(() => import("../screens/users/users")),
  },
  {
    path: "/set-up/devices",
    name: deviceWords.nav,
    needs: ["list_devices"],
    group: "set_up",
    component: lazy(() => import("../screens/devices/devices")),
  },
  {
    path: "/set-up/keys",
    name: keyWords.nav,
    needs: ["list_signing_keys"],
    group: "set_up",
    component: lazy(() => import("../screens/keys/keys")),
  },
  {
    path: "/set-up/site",
    name: siteWords.nav,
    needs: ["read_current_site", "update_current_site"],
    group: "set_up",
    component: lazy(() => import("../screens/site/site")),
  },
];
