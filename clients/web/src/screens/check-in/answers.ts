// What is asked at check-in, as it stands on the form and as it is sent. Nothing is chosen beforehand.
import type { Wire } from "../../api/client";

type YesNo = "yes" | "no";
export const GEAR = ["glasses", "head_cover", "hearing"] as const;
export type Gear = (typeof GEAR)[number];

export interface Answers {
  intake: "no" | "now" | "at" | null;
  /** A time of today at the site, as `08:40`. */
  intakeAt: string;
  well: YesNo | null;
  shaven: YesNo | null;
  changed: YesNo | null;
  gear: readonly Gear[];
  otherGear: string;
  needs: string;
}

export const NOTHING: Answers = {
  intake: null,
  intakeAt: "",
  well: null,
  shaven: null,
  changed: null,
  gear: [],
  otherGear: "",
  needs: "",
};

export type Missing = "intake" | "intake_time" | "intake_future" | "well" | "shaven" | "changed";

/** The moment today at which the clock of the site shows this time. */
export function todayAt(time: string, now: Date, zone: string): Date | undefined {
  const [hours, minutes] = time.split(":").map(Number);
  if (hours === undefined || minutes === undefined || Number.isNaN(hours + minutes)) return undefined;
  const shown = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  });
  const [nowHours = 0, nowMinutes = 0] = shown.format(now).split(":").map(Number);
  const back = nowHours * 60 + nowMinutes - (hours * 60 + minutes);
  const found = new Date(now.getTime() - back * 60_000);
  found.setSeconds(0, 0);
  return found;
}

/** When something was last eaten or drunk; null when it was long ago. */
function intakeOf(answers: Answers, now: Date, zone: string): Date | null | undefined {
  if (answers.intake === "no") return null;
  if (answers.intake === "now") return now;
  return todayAt(answers.intakeAt, now, zone);
}

/** What still has to be answered, in the order of the form. */
export function missing(answers: Answers, now: Date, zone: string): Missing[] {
  const found: Missing[] = [];
  if (answers.intake === null) found.push("intake");
  const intake = intakeOf(answers, now, zone);
  if (answers.intake === "at" && intake === undefined) found.push("intake_time");
  if (intake && intake > now) found.push("intake_future");
  for (const name of ["well", "shaven", "changed"] as const) if (answers[name] === null) found.push(name);
  return found;
}

/** As the server takes it. The gear is in words of the desk's language, because people read it. */
export function wire(
  answers: Answers,
  gearWords: readonly string[],
  now: Date,
  zone: string,
): Wire<"CheckInAnswers"> {
  const gear = [...gearWords, answers.otherGear.trim()].filter(Boolean).join(", ");
  return {
    last_intake_at: intakeOf(answers, now, zone)?.toISOString() ?? undefined,
    feels_well: answers.well === "yes",
    hair_at_seal: answers.shaven === "no",
    face_changed: answers.changed === "yes",
    gear_worn: gear || undefined,
    needs: answers.needs.trim() || undefined,
  };
}
