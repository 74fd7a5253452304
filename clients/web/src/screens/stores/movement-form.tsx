import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { newId } from "../../api/client";
import { useAction } from "../../app/use-action";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { SelectField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { play } from "../../kit/sound";
import { stores as words } from "../../words/stores";
import { usePlaces } from "./lists";

interface Props {
  /** The button, in one verb. */
  action: string;
  /** Whether everything is there that is asked for. */
  ready: boolean;
  kind?: "main" | "plain" | "stop";
  /** Stores it under the id; the same id until it is stored, so that a repeat stores once. */
  onSave: (id: string) => Promise<unknown>;
  onSaved: () => void;
  children: ComponentChildren;
}

/** A form for one entry of a ledger. */
export function MovementForm({ action, ready, kind = "plain", onSave, onSaved, children }: Props) {
  const [id, setId] = useState(newId);
  const save = useAction(async () => {
    await onSave(id);
    setId(newId());
    play("done");
    announce(words.done());
    onSaved();
  });
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        if (ready) void save.run();
      }}
    >
      <div class="stores-form">{children}</div>
      <ProblemNotice problem={save.problem} />
      <div class="row">
        <Button kind={kind} type="submit" busy={save.busy} disabled={!ready}>
          {action}
        </Button>
      </div>
    </form>
  );
}

/** One of the places of the site; `except` is where the thing is already. */
export function PlaceField(props: {
  label: string;
  value: string;
  onValue: (value: string) => void;
  except?: string | undefined;
  stationsOnly?: boolean;
}) {
  const places = (usePlaces().data ?? []).filter(
    one => one.id !== props.except && (!props.stationsOnly || one.station_id),
  );
  return (
    <SelectField
      label={props.label}
      value={props.value}
      nothing=""
      options={places.map(one => ({ value: one.id, label: one.name }))}
      onValue={props.onValue}
    />
  );
}
