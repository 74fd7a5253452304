import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { CheckField, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { kit } from "../../words/kit";
import { momentTyped, typedAtSite } from "../../words/site-time";
import { stopWords as words } from "../../words/stops";

/** What may be stopped; a lot is stopped on its own page. */
export type Stoppable = "bottle" | "fill" | "equipment" | "tester" | "station";

interface Props {
  thing: Stoppable;
  id: string;
  /** What it is called, in the question. */
  name: string;
  /** The time that is in doubt, where somebody asked about one. */
  from?: string | undefined;
  until?: string | undefined;
  onStopped?: () => void;
}

/** The way to stop a bottle, a fill, a nebulizer, a hood, a tester's runs, or a station's for a time. */
export function StopThing(props: Props) {
  const [asked, setAsked] = useState(false);
  if (!may("create_stop")) return null;
  return (
    <>
      <Button kind="stop" onClick={() => setAsked(true)}>
        {words.stop()}
      </Button>
      {asked && (
        <Dialog title={words.stop_title({ name: props.name })} onClose={() => setAsked(false)}>
          <StopForm {...props} onClose={() => setAsked(false)} />
        </Dialog>
      )}
    </>
  );
}

/** A bottle and a fill are in doubt as a whole. */
const TIMED: Record<Stoppable, boolean> = {
  bottle: false,
  fill: false,
  equipment: true,
  tester: true,
  station: true,
};

function StopForm({ thing, id: of, from, until, onStopped, onClose }: Props & { onClose: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    {
      reason: "",
      from: from ? typedAtSite(from) : "",
      until: until ? typedAtSite(until) : "",
      possibly: true,
    },
    {
      check: typed => ({
        ...missing(typed, "reason"),
        until: thing === "station" && !(typed.from && typed.until) && words.until_needed(),
      }),
      save: async typed => {
        const times = { from: momentTyped(typed.from) ?? null, until: momentTyped(typed.until) ?? null };
        const body: Wire<"NewStop"> = {
          id,
          [`${thing}_id`]: of,
          ...(TIMED[thing] ? times : {}),
          reason: typed.reason.trim(),
          reach: typed.possibly ? "possibly" : "surely",
          happened_at: nowText(),
        };
        await need(api.POST("/api/v1/stops", { body }));
        announce(kit.saved());
        onStopped?.();
        onClose();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.stop()} kind="stop" onCancel={onClose}>
      <p>{words.stop_more()}</p>
      <TextField label={words.reason()} maxLength={500} {...form.field("reason")} />
      {TIMED[thing] && (
        <FieldRow>
          <TextField
            label={words.from()}
            hint={words.from_hint()}
            type="datetime-local"
            {...form.field("from")}
          />
          <TextField
            label={words.until()}
            hint={words.until_hint()}
            type="datetime-local"
            {...form.field("until")}
          />
        </FieldRow>
      )}
      <CheckField
        label={words.reach()}
        checked={form.typed.possibly}
        onValue={possibly => form.set({ possibly })}
      />
    </FormBody>
  );
}
