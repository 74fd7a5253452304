// Why a file of readings cannot be taken: every mistake by its line, and what to do.
import type { Wire } from "../../api/client";
import type { Problem } from "../../api/problem";
import { CheckField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Table } from "../../kit/table";
import { clockWithSeconds, number } from "../../words/format";
import { readingFault } from "../../words/reading-faults";
import { readings as words } from "../../words/readings";
import type { Chosen } from "./file";

type Mistake = Wire<"ReadingFileProblem">;

interface Props {
  problem: Problem | undefined;
  file: Chosen;
  looked: boolean;
  onLooked: (looked: boolean) => void;
}

export function Wrong({ problem, file, looked, onLooked }: Props) {
  const code = problem?.code as Wire<"Code"> | undefined;
  const line = problem?.number("line");
  const endsAt = problem?.facts["ends_at"];
  if (code === "reading_file_invalid" && problem) return <Mistakes problem={problem} file={file} />;
  if (code === "happened_in_future" && typeof endsAt === "string") {
    return <Notice tone="wait" title={words.ends_at({ time: clockWithSeconds(endsAt) })} urgent />;
  }
  return (
    <>
      <ProblemNotice problem={problem} />
      {problem && line !== undefined && (
        <p>
          {words.at_line({ n: line })} {code === "exercise_out_of_order" && words.order_more()}
        </p>
      )}
      {(looked || code === "implausible_value") && (
        <CheckField label={words.looked_again()} checked={looked} onValue={onLooked} />
      )}
    </>
  );
}

function Mistakes({ problem, file }: { problem: Problem; file: Chosen }) {
  const shown = (problem.facts["problems"] ?? []) as Mistake[];
  const count = problem.number("problem_count") ?? shown.length;
  const lines = file.text.split(/\r\n|\n|\r/);
  return (
    <>
      <Notice tone="stop" title={words.mistakes({ n: count })} urgent>
        <p>{words.mistakes_more()}</p>
        {count > shown.length && <p>{words.mistakes_first({ n: shown.length })}</p>}
      </Notice>
      <Table
        caption={words.mistakes({ n: count })}
        rows={shown.map((one, n) => ({ ...one, n }))}
        keyOf={one => String(one.n)}
        columns={[
          { title: words.line(), cell: ({ line }) => (line ? number(line) : words.whole_file()) },
          { title: words.column(), cell: one => one.column ?? "–" },
          {
            title: words.stands(),
            cell: ({ line }) => <span class="whole-line">{(line && lines[line - 1]) || "–"}</span>,
          },
          { title: words.mistake(), cell: one => readingFault(one) },
        ]}
      />
    </>
  );
}
