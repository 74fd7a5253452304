import { api, need, type Wire } from "../../api/client";
import { type Resource, useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Notice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { saveFile } from "../../kit/save-file";
import { Loaded } from "../../kit/states";
import { attempt as words } from "../../words/attempt";
import { date } from "../../words/format";
import { records } from "../../words/records";
import type { Attempt } from "./attempt";
import { endingWord } from "./outcome";

/** The same in every language. */
const SOURCE = "29 CFR 1910.134(m)(2)(i)";

/** What is recorded of an attempt, once it has ended. */
export const useRecord = (attempt: Attempt): Resource<Wire<"RecordView">> =>
  useResource(
    attempt.state.verdict ? `record ${attempt.id}` : null,
    () =>
      need(api.GET("/api/v1/attempts/{attempt_id}/record", { params: { path: { attempt_id: attempt.id } } })),
    { nouns: ["attempt_corrections", "attempt_recordings"] },
  );

/** What 29 CFR 1910.134(m)(2)(i) wants recorded, as the server has it, and as a file to hand out. */
export function FiveThings({ attempt, record }: { attempt: Attempt; record: Resource<Wire<"RecordView">> }) {
  if (!attempt.state.verdict) {
    return (
      <Panel title={words.record()}>
        <p class="soft">{words.record_none()}</p>
      </Panel>
    );
  }
  return (
    <Panel title={words.record()}>
      <Loaded resource={record}>
        {found => (
          <>
            <Facts
              facts={[
                [
                  words.record_person(),
                  `${found.person.given_name} ${found.person.family_name}, ${found.person.staff_number}`,
                ],
                [words.record_type(), records[`method_${found.type_of_test}`]()],
                [
                  words.record_respirator(),
                  [
                    found.respirator.make,
                    found.respirator.model,
                    found.respirator.style,
                    found.respirator.size,
                  ]
                    .filter(Boolean)
                    .join(", "),
                ],
                [words.record_date(), date(found.date)],
                [
                  words.record_result(),
                  [endingWord(found.result.outcome), found.result.fit_factor].filter(Boolean).join(", "),
                ],
              ]}
            />
            {found.result.recording_missing && <Notice tone="wait" title={words.recording_missing()} />}
            <p class="soft small">{SOURCE}</p>
            <div class="row">
              <Button
                onClick={() => {
                  const text = `${JSON.stringify(found, null, 2)}\n`;
                  saveFile(new Blob([text], { type: "application/json" }), `record-${attempt.id}.json`);
                }}
              >
                {words.record_save()}
              </Button>
            </div>
          </>
        )}
      </Loaded>
    </Panel>
  );
}
