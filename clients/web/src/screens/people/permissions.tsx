import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Choice, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Empty, Loaded } from "../../kit/states";
import { date, dateAtSite, dayAndClock } from "../../words/format";
import { kit } from "../../words/kit";
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
function Decide(props: { personId: string; onDone: () => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const [decision, setDecision] = useState<Decision | null>(null);
  const [limits, setLimits] = useState("");
  const [from, setFrom] = useState(() => dateAtSite());
  const [until, setUntil] = useState("");
  const [tried, setTried] = useState(false);
  const limited = decision === "permitted_with_limits";
  const ready = decision !== null && from !== "" && (!limited || limits.trim() !== "");
  const save = useAction(async () => {
    if (decision === null) return;
    await need(
      api.POST("/api/v1/people/{person_id}/permissions", {
        params: { path: { person_id: props.personId } },
        body: {
          id,
          decision,
          limits: limited ? limits.trim() : undefined,
          valid_from: from,
          valid_until: until || undefined,
          happened_at: nowText(),
        },
      }),
    );
    props.onDone();
  });
  const fault = (name: string) => (save.problem?.field === name ? save.problem.detail : undefined);
  return (
    <form
      class="stack"
      noValidate
      onSubmit={event => {
        event.preventDefault();
        setTried(true);
        if (ready) void save.run();
      }}
    >
      <p class="soft">{words.permission_caution()}</p>
      <Choice
        label={words.decision()}
        value={decision}
        options={DECISIONS.map(value => ({ value, label: words[`decision_${value}`]() }))}
        onValue={setDecision}
        problem={tried && decision === null ? words.decision_needed() : fault("decision")}
      />
      {limited && (
        <TextField
          label={words.limits()}
          hint={words.limits_hint()}
          value={limits}
          onValue={setLimits}
          problem={tried && limits.trim() === "" ? words.limits_needed() : fault("limits")}
        />
      )}
      <TextField
        label={words.valid_from()}
        type="date"
        value={from}
        onValue={setFrom}
        problem={tried && from === "" ? words.valid_from_needed() : fault("valid_from")}
      />
      <TextField
        label={words.valid_until()}
        hint={words.valid_until_hint()}
        type="date"
        value={until}
        onValue={setUntil}
        problem={fault("valid_until")}
      />
      <ProblemNotice problem={save.problem} />
      <div class="row">
        <Button kind="main" type="submit" busy={save.busy}>
          {kit.save()}
        </Button>
        <Button onClick={props.onCancel}>{kit.cancel()}</Button>
      </div>
    </form>
  );
}
