import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { gateSetUp as words } from "../../words/gate-set-up";
import { useRespirators } from "../stores/lists";
import { NewGate } from "./gate-form";
import { readPolicies, useGates } from "./lists";
import { type Policy, policySentence } from "./policy-words";
import { WalkingTimes } from "./walking-times";

/** What does each gate accept, now and next? */
export default function Gates() {
  const gates = useGates();
  const [adding, setAdding] = useState(false);
  return (
    <Page
      title={words.title()}
      actions={
        may("create_gate") && (
          <Button kind="main" onClick={() => setAdding(true)}>
            {words.add()}
          </Button>
        )
      }
    >
      <Panel>
        <Loaded resource={gates}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()}>
                <p>{words.none_todo()}</p>
              </Empty>
            ) : (
              <GateTable gates={rows} />
            )
          }
        </Loaded>
      </Panel>
      {may("list_walking_times") && (gates.data?.length ?? 0) > 1 && (
        <WalkingTimes gates={gates.data ?? []} />
      )}
      {adding && (
        <Dialog title={words.add()} onClose={() => setAdding(false)}>
          <NewGate
            onCancel={() => setAdding(false)}
            onStored={() => {
              setAdding(false);
              gates.reload();
            }}
          />
        </Dialog>
      )}
    </Page>
  );
}

const byName = (one: Wire<"GateView">, other: Wire<"GateView">) => one.name.localeCompare(other.name);

/** Every policy of every gate, by gate. */
async function policiesOf(gates: Wire<"GateView">[]): Promise<Map<string, Policy[]>> {
  const found = await Promise.all(gates.map(gate => readPolicies(gate.id)));
  return new Map(gates.map((gate, n) => [gate.id, found[n] ?? []]));
}

function GateTable({ gates }: { gates: Wire<"GateView">[] }) {
  const respirators = useRespirators().data ?? [];
  const policies = useResource(`policies of ${gates.map(one => one.id).join()}`, () => policiesOf(gates), {
    nouns: ["gate_policies"],
    everyMs: 60_000,
  });
  const of = (gate: Wire<"GateView">, standing: Wire<"PolicyStanding">) =>
    (policies.data?.get(gate.id) ?? []).filter(one => one.standing === standing);
  return (
    <Loaded resource={policies}>
      {() => (
        <Table
          caption={words.title()}
          rows={[...gates].sort(byName)}
          keyOf={one => one.id}
          columns={[
            { title: words.gate(), cell: one => <a href={to(`/set-up/gates/${one.id}`)}>{one.name}</a> },
            {
              title: words.now(),
              cell: one => {
                const now = of(one, "present")[0];
                return now ? policySentence(now, respirators) : words.no_policy();
              },
            },
            {
              title: words.next(),
              cell: one => {
                const next = of(one, "coming").sort((a, b) =>
                  a.effective_from.localeCompare(b.effective_from),
                )[0];
                if (!next) return words.nothing_coming();
                const time = dayAndClock(next.effective_from);
                return words.from({ time, what: policySentence(next, respirators) });
              },
            },
          ]}
        />
      )}
    </Loaded>
  );
}
