import { useState } from "preact/hooks";
import { useResource } from "../../app/use-resource";
import { api, need } from "../../api/client";
import { day } from "../../app/place";
import { Button } from "../../kit/button";
import { CheckField, Choice, TextField } from "../../kit/field";
import { checkIn as words } from "../../words/check-in";
import { timeZone } from "../../words/format";
import { kit } from "../../words/kit";
import { type Answers, GEAR, type Missing, missing, NOTHING, wire } from "./answers";
import type { Wire } from "../../api/client";

export interface Answered {
  answers: Wire<"CheckInAnswers">;
  walkIn: boolean;
  at: Date;
}

interface Props {
  /** Whether the person is being checked in now, and may have come without being expected. */
  first: boolean;
  busy: boolean;
  onAnswered: (answered: Answered) => void;
}

/** Minutes without food or drink by the day's rule set; undefined until it is read. */
function useIntakeMinutes(): number | undefined {
  const rules = day.value?.rule_set;
  const known = useResource(rules ? `rules ${rules.name} ${rules.version}` : null, async () => {
    const path = { name: rules?.name ?? "" };
    const query = { version: rules?.version };
    const { values } = await need(api.GET("/api/v1/rule_sets/{name}", { params: { path, query } }));
    const value = values.find(one => one.key === "no_intake_seconds")?.value;
    return typeof value === "number" ? Math.ceil(value / 60) : undefined;
  });
  return known.data;
}

export function Questions({ first, busy, onAnswered }: Props) {
  const [answers, setAnswers] = useState<Answers>(NOTHING);
  const [walkIn, setWalkIn] = useState(false);
  const [open, setOpen] = useState<Missing[]>([]);
  const minutes = useIntakeMinutes();
  const change = (part: Partial<Answers>) => {
    setAnswers({ ...answers, ...part });
    setOpen([]);
  };
  const yesNo = [
    { value: "yes" as const, label: kit.yes() },
    { value: "no" as const, label: kit.no() },
  ];
  const fault = (name: Missing) => (open.includes(name) ? words.unanswered() : undefined);
  const timeFault = () =>
    open.includes("intake_time")
      ? words.intake_time_needed()
      : open.includes("intake_future")
        ? words.intake_future()
        : undefined;

  const submit = (event: Event) => {
    event.preventDefault();
    const at = new Date();
    const found = missing(answers, at, timeZone.value);
    setOpen(found);
    if (found.length > 0) {
      requestAnimationFrame(() =>
        (event.target as HTMLElement).querySelector<HTMLElement>(".field:has(.field-problem) input")?.focus(),
      );
      return;
    }
    const gear = answers.gear.map(one => words[`gear_${one}`]());
    onAnswered({ answers: wire(answers, gear, at, timeZone.value), walkIn, at });
  };

  return (
    <form class="stack" noValidate onSubmit={submit}>
      <p class="soft small">{words.questions_private()}</p>
      <Choice
        label={words.intake({ minutes: minutes ?? "…" })}
        hint={words.intake_hint()}
        problem={fault("intake")}
        value={answers.intake}
        options={[
          { value: "no", label: words.intake_no() },
          { value: "now", label: words.intake_now() },
          { value: "at", label: words.intake_at() },
        ]}
        onValue={intake => change({ intake })}
      />
      {answers.intake === "at" && (
        <TextField
          label={words.intake_time()}
          type="time"
          value={answers.intakeAt}
          onValue={intakeAt => change({ intakeAt })}
          problem={timeFault()}
        />
      )}
      <Choice
        label={words.well()}
        problem={fault("well")}
        value={answers.well}
        options={yesNo}
        onValue={well => change({ well })}
      />
      <Choice
        label={words.shaven()}
        hint={words.shaven_hint()}
        problem={fault("shaven")}
        value={answers.shaven}
        options={yesNo}
        onValue={shaven => change({ shaven })}
      />
      <Choice
        label={words.changed()}
        hint={words.changed_hint()}
        problem={fault("changed")}
        value={answers.changed}
        options={yesNo}
        onValue={changed => change({ changed })}
      />
      <fieldset class="field">
        <legend class="field-label">{words.gear()}</legend>
        <div class="row">
          {GEAR.map(one => (
            <CheckField
              key={one}
              label={words[`gear_${one}`]()}
              checked={answers.gear.includes(one)}
              onValue={worn =>
                change({ gear: worn ? [...answers.gear, one] : answers.gear.filter(other => other !== one) })
              }
            />
          ))}
        </div>
      </fieldset>
      <TextField
        label={words.gear_other()}
        value={answers.otherGear}
        onValue={otherGear => change({ otherGear })}
        autocomplete="off"
        maxLength={80}
      />
      <TextField
        label={words.needs()}
        hint={words.needs_hint()}
        value={answers.needs}
        onValue={needs => change({ needs })}
        autocomplete="off"
        maxLength={200}
      />
      {first && <CheckField label={words.walk_in()} checked={walkIn} onValue={setWalkIn} />}
      <Button kind="main" size="large" type="submit" busy={busy}>
        {first ? words.submit() : words.submit_again()}
      </Button>
    </form>
  );
}
