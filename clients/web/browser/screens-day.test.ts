// The screens of a day: desk, stations, stores, records.
import { holdsForScreens } from "./screens";
import { ROWS } from "./table";

holdsForScreens(ROWS);
