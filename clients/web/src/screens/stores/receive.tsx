import "./stores.css";
import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import { play } from "../../kit/sound";
import { Button } from "../../kit/button";
import { Choice, SelectField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { stores as words } from "../../words/stores";
import { LabelFields } from "./label-fields";
import { emptyLabel, labelBody, labelReady, type LabelTyped } from "./label-typed";
import { useRespirators } from "./lists";
import { respiratorName } from "./names";

const KINDS = ["solution", "nebulizers", "hoods", "facepieces"] as const;
type Kind = (typeof KINDS)[number];

/** What is bought ready: stock solution and isoamyl solutions are made in-house, and smoke has only its tubes. */
const BOUGHT: readonly { agent: Wire<"Agent">; solution: Wire<"Solution"> }[] = [
  { agent: "saccharin", solution: "screening" },
  { agent: "saccharin", solution: "test" },
  { agent: "denatonium_benzoate", solution: "screening" },
  { agent: "denatonium_benzoate", solution: "test" },
  { agent: "irritant_smoke", solution: "test" },
];

const SUPPLIES = { nebulizers: "nebulizer", hoods: "hood", facepieces: "facepiece" } as const;

/** What has come? Its label is scanned, or everything on it typed twice; then the lot is opened to say how much. */
export default function Receive() {
  const { query, route } = useLocation();
  const respirators = useRespirators().data ?? [];
  const [id] = useState(newId);
  const [kind, setKind] = useState<Kind | null>(null);
  const [bought, setBought] = useState("");
  const [respirator, setRespirator] = useState("");
  const [label, setLabel] = useState<LabelTyped>({ ...emptyLabel, label: query["label"] ?? "" });
  const solution = BOUGHT[Number(bought)];
  const said =
    kind === "solution" ? bought !== "" : kind === "facepieces" ? respirator !== "" : kind !== null;
  const ready = said && labelReady(label, kind === "solution");
  const what = (): Partial<Wire<"NewLot">> => {
    if (kind === null) return {};
    if (kind === "solution") return { ...solution };
    const supply = SUPPLIES[kind];
    return supply === "facepiece" ? { supply, respirator_id: respirator } : { supply };
  };
  const receive = useAction(async () => {
    const body = { id, happened_at: nowText(), ...what(), ...labelBody(label) };
    const lot = await need(api.POST("/api/v1/lots", { body }));
    play("done");
    route(to(`/stores/lots/${lot.id}`));
  });
  return (
    <Page title={words.receive_title()} narrow>
      <Panel>
        <form
          class="stack"
          onSubmit={event => {
            event.preventDefault();
            if (ready) void receive.run();
          }}
        >
          <Choice
            label={words.kind()}
            value={kind}
            options={KINDS.map(value => ({ value, label: words[`kind_${value}`]() }))}
            onValue={setKind}
          />
          {kind === "solution" && (
            <SelectField
              label={words.solution()}
              value={bought}
              nothing=""
              options={BOUGHT.map((one, n) => ({
                value: String(n),
                label: words.solution_of({
                  solution: words[`solution_${one.solution}`](),
                  agent: words[`agent_${one.agent}`](),
                }),
              }))}
              onValue={setBought}
            />
          )}
          {kind === "facepieces" && (
            <SelectField
              label={words.respirator()}
              value={respirator}
              nothing=""
              options={respirators.map(one => ({ value: one.id, label: respiratorName(one) }))}
              onValue={setRespirator}
            />
          )}
          <LabelFields
            value={label}
            onValue={setLabel}
            solution={kind === "solution"}
            field={receive.problem?.field}
          />
          <ProblemNotice problem={receive.problem} />
          <div class="row">
            <Button kind="main" type="submit" busy={receive.busy} disabled={!ready}>
              {words.receive()}
            </Button>
          </div>
        </form>
      </Panel>
    </Page>
  );
}
