import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { stores as words } from "../../words/stores";
import { kindOf } from "./names";

type Meaning = Wire<"LabelMeaning">;

interface Found {
  href: string;
  name: string;
}

/** Everything of ours that a label can mean. */
function found(meaning: Meaning): Found[] {
  const bottle = meaning.bottle
    ? [
        {
          href: to(`/stores/bottles/${meaning.bottle.id}`),
          name: words.bottle({ label: meaning.bottle.label }),
        },
      ]
    : [];
  const equipment = meaning.equipment.map(one => ({
    href: to(`/stores/equipment/${one.id}`),
    name: `${words[`kind_${one.kind}`]()} ${one.label}`,
  }));
  const lots = meaning.lots.map(one => ({
    href: to(`/stores/lots/${one.id}`),
    name: `${words.lot({ number: one.lot_number })}: ${kindOf(one)}`,
  }));
  return [...bottle, ...equipment, ...lots];
}

/** One box for every label: a scanner types into it and presses Enter, and whatever it means is opened. */
export function ScanBox() {
  const { route } = useLocation();
  const [text, setText] = useState("");
  const [several, setSeveral] = useState<Found[] | null>(null);
  const read = useAction(async () => {
    setSeveral(null);
    const meaning = await need(api.POST("/api/v1/label_readings", { body: { text: text.trim() } }));
    const things = found(meaning);
    const only = things.length === 1 ? things[0] : undefined;
    if (only) route(only.href);
    else setSeveral(things);
  });
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        if (text.trim()) void read.run();
      }}
    >
      <TextField
        label={words.scan()}
        hint={words.scan_hint()}
        value={text}
        onValue={next => {
          setText(next);
          setSeveral(null);
        }}
        type="search"
        autocomplete="off"
        large
        maxLength={500}
      />
      <div class="row">
        <Button type="submit" busy={read.busy}>
          {words.scan_find()}
        </Button>
      </div>
      <ProblemNotice problem={read.problem} />
      {several?.length === 0 && (
        <Notice tone="wait" title={words.scan_nothing()} urgent>
          <p>{words.scan_nothing_todo()}</p>
          {may("create_lot") && (
            <div class="row">
              <Button href={`${to("/stores/receive")}?label=${encodeURIComponent(text.trim())}`}>
                {words.scan_receive()}
              </Button>
            </div>
          )}
        </Notice>
      )}
      {several && several.length > 0 && (
        <Notice tone="plain" title={words.scan_several()} urgent>
          <ul class="rows">
            {several.map(one => (
              <li key={one.href}>
                <a class="row-link" href={one.href}>
                  {one.name}
                </a>
              </li>
            ))}
          </ul>
        </Notice>
      )}
    </form>
  );
}
