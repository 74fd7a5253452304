// Exercises in the language of the screen; one that only a rule set of the site has is named as it names it.
import { run } from "./run";

interface Exercise {
  key: string;
  name: string;
  say: string;
}

type ExerciseWord = keyof typeof run & `x_${string}`;
const known = (key: string): key is ExerciseWord => key in run;
const word = (key: string): string | undefined => (known(key) ? run[key]() : undefined);

export const exerciseName = (one: Pick<Exercise, "key" | "name">): string => word(`x_${one.key}`) ?? one.name;
/** What is said to the person at its beginning. */
export const exerciseSay = (one: Pick<Exercise, "key" | "say">): string =>
  word(`x_${one.key}_say`) ?? one.say;
