import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Choice, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Facts, Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Empty, Loaded } from "../../kit/states";
import { date, dateAtSite, dayAndClock } from "../../words/format";
import { person as words } from "../../words/person";

type Permission = Wire<"PermissionView">;
type Decision = Wire<"Decision">;

const DECISIONS: readonly Decision[] = ["permitted", "permitted_with_limits", "not_now", "unknown"];
const TONES: Record<Decision, Tone> = {
  permitted: "go",
  permitted_with_limits: "go",
  not_now: "stop",
  unknown: "unknown",
};

/** The decisions about wearing a respirator, newest first. There is no reason here, and nowhere to write one. */
export function Permissions({ personId }: { personId: string }) {
  const [adding, setAdding] = useState(false);
  const decisions = useResource(
    `permissions ${personId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/people/{person_id}/permissions", {
          params: { path: { person_id: personId }, query: { cursor, limit: 500 } },
        }),
      ),
    { nouns: ["permissions"] },
  );
  return (
    <Panel
      title={words.permission()}
      actions={
        may("create_permission") &&
        !adding && <Button onClick={() => setAdding(true)}>{words.permission_add()}</Button>
      }
    >
      {adding && (
        <Decide
          personId={personId}
          onCancel={() => setAdding(false)}
          onDone={() => {
            setAdding(false);
            decisions.reload();
          }}
        />
      )}
      <Loaded resource={decisions}>
        {found => {
          if (found.length === 0) {
            return (
              <Empty title={words.permission_none()}>
                <p>{words.permission_none_more()}</p>
              </Empty>
            );
          }
          const newest = [...found].sort((one, other) => other.happened_at.localeCompare(one.happened_at));
          return (
            <ul class="rows">
              {newest.map((one, n) => (
                <li key={one.id} class="entry">
                  <Decided one={one} newest={n === 0 && newest.length > 1} />
                </li>
              ))}
            </ul>
          );
        }}
      </Loaded>
    </Panel>
  );
}

function Decided({ one, newest }: { one: Permission; newest: boolean }) {
  return (
    <>
      <div class="row">
        <Tag tone={TONES[one.decision]}>{words[`decision_${one.decision}`]()}</Tag>
        {newest && <span class="soft small">{words.newest()}</span>}
      </div>
      <Facts
        facts={[
          [words.valid_from(), date(one.valid_from)],
          [words.valid_until(), one.valid_until && date(one.valid_until)],
          [words.limits(), one.limits],
          [words.decided(), dayAndClock(one.happened_at)],
          [words.recorded(), dayAndClock(one.recorded_at)],
        ]}
      />
    </>
  );
}

/** The clinician's decision: what was decided, and from when until when. */
function Decide({
  personId,
  onDone,
  onCancel,
}: {
  personId: string;
  onDone: () => void;
  onCancel: () => void;
}) {
  const [id] = useState(newId);
  const form = useForm(
    { decision: null as Decision | null, limits: "", valid_from: dateAtSite(), valid_until: "" },
    {
      check: typed => ({
        decision: typed.decision === null && words.decision_needed(),
        limits: limited(typed.decision) && typed.limits.trim() === "" && words.limits_needed(),
        valid_from: typed.valid_from === "" && words.valid_from_needed(),
      }),
      save: async ({ decision, limits, valid_from, valid_until }) => {
        if (decision === null) return;
        const body = {
          ...{ id, decision, valid_from, happened_at: nowText() },
          limits: limited(decision) ? limits.trim() : undefined,
          valid_until: valid_until || undefined,
        };
        const params = { path: { person_id: personId } };
        await need(api.POST("/api/v1/people/{person_id}/permissions", { params, body }));
        onDone();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel}>
      <p class="soft">{words.permission_caution()}</p>
      <Choice
        label={words.decision()}
        options={DECISIONS.map(value => ({ value, label: words[`decision_${value}`]() }))}
        {...form.field("decision")}
      />
      {limited(form.typed.decision) && (
        <TextField label={words.limits()} hint={words.limits_hint()} {...form.field("limits")} />
      )}
      <TextField label={words.valid_from()} type="date" {...form.field("valid_from")} />
      <TextField
        label={words.valid_until()}
        hint={words.valid_until_hint()}
        type="date"
        {...form.field("valid_until")}
      />
    </FormBody>
  );
}

const limited = (decision: Decision | null): boolean => decision === "permitted_with_limits";
