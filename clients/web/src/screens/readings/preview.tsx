import type { ComponentChildren } from "preact";
import { Notice } from "../../kit/notice";
import { Table } from "../../kit/table";
import { clockWithSeconds } from "../../words/format";
import { readings as words } from "../../words/readings";
import type { Exercise } from "./draft";
import type { Preview } from "./file";

interface Props {
  found: Preview;
  exercises: readonly Exercise[];
  children: ComponentChildren;
}

/** What the file would put into the attempt, as the server reads it. */
export function WhatItSays({ found, exercises, children }: Props) {
  const { fit, events } = found;
  const [first, last] = [events[0], events.at(-1)];
  const nameOf = (number: number) =>
    exercises.find(one => one.number === number)?.name ?? words.exercise_n({ n: number });
  return (
    <section class="stack" aria-label={words.preview()}>
      <h3>{words.preview()}</h3>
      {fit && fit.exercises.length > 0 ? (
        <Table
          caption={words.preview()}
          rows={fit.exercises.map((one, place) => ({ ...one, place }))}
          keyOf={one => String(one.place)}
          columns={[
            { title: words.exercise(), cell: one => `${one.exercise}. ${nameOf(one.exercise)}` },
            { title: words.fit_factor(), cell: one => one.fit_factor, number: true },
          ]}
        />
      ) : (
        <Notice tone="wait" title={words.nothing_scored()} />
      )}
      {fit?.overall && <p class="strong">{words.overall({ factor: fit.overall, level: fit.pass_level })}</p>}
      {first && last && (
        <p class="soft">
          {words.counts_from({
            from: clockWithSeconds(first.happened_at),
            to: clockWithSeconds(last.happened_at),
          })}
        </p>
      )}
      <Notice tone="go" title={words.ready()} />
      {children}
    </section>
  );
}
