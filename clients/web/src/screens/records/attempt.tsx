import "./records.css";
import { useRoute } from "preact-iso";
import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { attempt as words } from "../../words/attempt";
import { date, dayAndClock } from "../../words/format";
import { records } from "../../words/records";
import { fullName, readPerson } from "../people/person";
import { Recordings } from "../recordings/recordings";
import { AuditOf } from "./audit-of";
import { Correction } from "./correction";
import { Events } from "./events";
import { FiveThings, useRecord } from "./five-things";
import { useRespiratorNames, useStationNames } from "./names";
import { Plan } from "./plan";
import { Used } from "./used";
import { Verdict } from "./verdict";

export type Attempt = Wire<"AttemptView">;

/** One attempt, from its plan to what followed: the path that has to be followed to trust it. */
export default function OneAttempt() {
  const { id = "" } = useRoute().params;
  return <Shown key={id} id={id} />;
}

function Shown({ id }: { id: string }) {
  const found = useResource(
    `attempt ${id}`,
    () => need(api.GET("/api/v1/attempts/{attempt_id}", { params: { path: { attempt_id: id } } })),
    { nouns: ["attempts", "attempt_events", "attempt_corrections"] },
  );
  return (
    <Loaded resource={found}>
      {attempt => (
        <Page title={words.title()}>
          {(attempt.afterwards || attempt.correction) && (
            <Notice tone="wait">
              <p>{words.caution()}</p>
            </Notice>
          )}
          <div class="columns">
            <div class="stack stack-wide">
              <Verdict attempt={attempt} />
              <Events attempt={attempt} />
              <Plan plan={attempt.plan} />
            </div>
            <div class="stack stack-wide">
              <Correction attempt={attempt} onDone={found.reload} />
              <Who attempt={attempt} />
              <Used attempt={attempt} />
              {may("read_attempt_record") && <Record attempt={attempt} />}
              {may("list_audit_rows") && <AuditOf subjectId={attempt.id} />}
            </div>
          </div>
        </Page>
      )}
    </Loaded>
  );
}

/** What has to be recorded, and the instrument's own recordings beside it. */
function Record({ attempt }: { attempt: Attempt }) {
  const record = useRecord(attempt);
  return (
    <>
      <FiveThings attempt={attempt} record={record} />
      {attempt.plan.measuring && record.data && (
        <Recordings attemptId={attempt.id} kept={record.data.result.recordings} onKept={record.reload} />
      )}
    </>
  );
}

/** Who was tested on what, where, and by which rules. */
function Who({ attempt }: { attempt: Attempt }) {
  const person = useResource(`person ${attempt.person_id}`, () => readPerson(attempt.person_id), {
    nouns: ["people"],
  });
  const visit = useResource(`visit ${attempt.visit_id}`, () =>
    need(api.GET("/api/v1/visits/{visit_id}", { params: { path: { visit_id: attempt.visit_id } } })),
  );
  const stations = useStationNames(visit.data?.day_id ?? null);
  const respirators = useRespiratorNames();
  const one = person.data;
  return (
    <Panel title={words.who()}>
      <Facts
        facts={[
          [records.person(), one && <a href={to(`/people/${one.id}`)}>{fullName(one)}</a>],
          [records.number(), one && <span class="number">{one.staff_number}</span>],
          [records.respirator(), respirators.get(attempt.respirator_id)],
          [records.method(), records[`method_${attempt.method}`]()],
          [records.station(), stations.get(attempt.station_id)],
          [records.when(), dayAndClock(attempt.happened_at)],
          [words.tested_on(), attempt.tested_on && date(attempt.tested_on)],
          [
            words.rule_set(),
            words.rule_set_of({ name: attempt.rule_set_name, version: attempt.rule_set_version }),
          ],
          [words.filter(), attempt.fitted_filter],
          [words.instrument(), attempt.instrument],
        ]}
      />
      {attempt.negative_pressure_mode && <p class="soft">{words.negative_pressure()}</p>}
      {attempt.afterwards && <p class="soft">{words.afterwards()}</p>}
    </Panel>
  );
}
