import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { remembered } from "../../app/remembered";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { openFile, saveFile } from "../../kit/save-file";
import { badges as words } from "../../words/badges";
import { Places } from "./places";

type Layout = Wire<"SheetLayout">;

export interface Settings {
  layout: Layout;
  first_place: number;
  printer: Required<Wire<"PrinterSettings">>;
}

const LAYOUTS = [
  "a4_sheet",
  "letter_sheet",
  "card",
  "a4_single",
  "letter_single",
  "slip",
] as const satisfies Layout[];
const DOTS = ["203", "300", "600"] as const;
/** The printer stands beside this device: what it needs is remembered here. */
const kept = remembered("printer", { layout: "a4_sheet" as Layout, dots: "300", x: "0", y: "0" });

interface Props {
  name: string;
  onPrint: (settings: Settings) => Promise<Blob>;
  children?: ComponentChildren;
}

/** What paper, from which place on, and a look at it before it is printed. */
export function PrintForm({ name, onPrint, children }: Props) {
  const [at, setAt] = useState(kept.get);
  const [first, setFirst] = useState(0);
  const change = (next: Partial<typeof at>) => {
    const all = { ...at, ...next };
    kept.set(all);
    setAt(all);
  };
  const sheet = at.layout === "a4_sheet" || at.layout === "letter_sheet";
  const settings = (): Settings => ({
    layout: at.layout,
    first_place: sheet ? first : 0,
    printer: {
      dots_per_inch: Number(at.dots),
      offset_x_mm: Number(at.x.replace(",", ".")) || 0,
      offset_y_mm: Number(at.y.replace(",", ".")) || 0,
    },
  });
  const print = useAction(async (then: (file: Blob, name: string) => void) =>
    then(await onPrint(settings()), name),
  );
  const proof = useAction(async () => {
    const { layout, printer } = settings();
    const file = await need(api.POST("/api/v1/proof_sheets", { body: { layout, printer }, parseAs: "blob" }));
    openFile(file as unknown as Blob, "proof.pdf");
  });
  return (
    <Panel title={words.print()}>
      <div class="badges-form">
        <SelectField
          label={words.layout()}
          value={at.layout}
          options={LAYOUTS.map(value => ({ value, label: words[`layout_${value}`]() }))}
          onValue={layout => change({ layout })}
        />
        {children}
      </div>
      {sheet && <Places first={first} onFirst={setFirst} />}
      <div class="row">
        <Button kind="main" size="large" busy={print.busy} onClick={() => void print.run(openFile)}>
          {words.open_pdf()}
        </Button>
        <Button size="large" busy={print.busy} onClick={() => void print.run(saveFile)}>
          {words.save_pdf()}
        </Button>
      </div>
      <p class="small soft">{words.printed_note()}</p>
      <ProblemNotice problem={print.problem ?? proof.problem} />
      <details>
        <summary>{words.printer()}</summary>
        <div class="badges-form">
          <SelectField
            label={words.dots()}
            value={at.dots}
            options={DOTS.map(value => ({ value, label: value }))}
            onValue={dots => change({ dots })}
          />
          <TextField label={words.offset_x()} inputMode="decimal" value={at.x} onValue={x => change({ x })} />
          <TextField label={words.offset_y()} inputMode="decimal" value={at.y} onValue={y => change({ y })} />
        </div>
        <p class="small soft">{words.proof_hint()}</p>
        <Button busy={proof.busy} onClick={() => void proof.run()}>
          {words.proof_print()}
        </Button>
      </details>
    </Panel>
  );
}
