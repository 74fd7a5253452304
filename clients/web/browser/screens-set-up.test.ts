// The screens of doors and of what is set up before a day.
import { DOOR_ROWS } from "./door-table";
import { holdsForScreens } from "./screens";
import { SET_UP_ROWS } from "./set-up-table";

holdsForScreens([...DOOR_ROWS, ...SET_UP_ROWS]);
