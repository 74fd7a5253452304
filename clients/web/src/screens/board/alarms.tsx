import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { board as words } from "../../words/board";
import { clock } from "../../words/format";

type Alarm = Wire<"AlarmView">;

interface Props {
  dayId: string;
  alarms: readonly Alarm[];
  onTaken: () => void;
  /** Seen by everybody in the room: it only tells. */
  wall?: boolean;
}

/** What waits for somebody's name, and whose name the rest has. */
export function Alarms({ dayId, alarms, onTaken, wall }: Props) {
  const open = alarms.filter(one => !one.taken_on);
  const taken = alarms.filter(one => one.taken_on);
  return (
    <Panel title={words.alarms()}>
      {open.length === 0 && <Empty title={words.alarms_none()} />}
      <ul class="rows">
        {open.map(one => (
          <li key={one.kind + one.subject_id} class="board-alarm">
            <What alarm={one} wall={wall} />
            {!wall && may("create_alarm_acknowledgement") && (
              <Take dayId={dayId} alarm={one} onTaken={onTaken} />
            )}
          </li>
        ))}
      </ul>
      {taken.length > 0 && !wall && (
        <details>
          <summary>{words.alarms_taken({ n: taken.length })}</summary>
          <ul class="rows">
            {taken.map(one => (
              <li key={one.kind + one.subject_id} class="board-alarm">
                <What alarm={one} />
                <Tag tone="go">
                  {words.taken({ name: one.taken_on?.by ?? "", time: clock(one.taken_on?.at ?? 0) })}
                </Tag>
              </li>
            ))}
          </ul>
        </details>
      )}
    </Panel>
  );
}

function What({ alarm, wall }: { alarm: Alarm; wall?: boolean }) {
  const about = [
    clock(alarm.happened_at),
    alarm.station,
    alarm.ticket && words.ticket({ n: alarm.ticket }),
    alarm.what,
    !wall && alarm.reason,
  ];
  const link = wall ? undefined : linkOf(alarm);
  return (
    <div class="stack stack-close">
      <Tag tone={alarm.taken_on ? "plain" : "stop"}>{words[`alarm_${alarm.kind}`]()}</Tag>
      <p>{about.filter(Boolean).join(" · ")}</p>
      {link && <a href={link}>{words.look_back()}</a>}
    </div>
  );
}

/** Where the people are who stand on it, for those who may see them. */
function linkOf(alarm: Alarm): string | undefined {
  if (!may("read_look_back")) return undefined;
  if (alarm.lot_id) return to(`/look-back/lot/${alarm.lot_id}`);
  if (alarm.equipment_id) return to(`/look-back/equipment/${alarm.equipment_id}`);
  return undefined;
}

function Take({ dayId, alarm, onTaken }: { dayId: string; alarm: Alarm; onTaken: () => void }) {
  const [id] = useState(newId);
  const { kind, subject_id } = alarm;
  const take = useAction(async () => {
    await need(
      api.POST("/api/v1/days/{day_id}/alarm_acknowledgements", {
        params: { path: { day_id: dayId } },
        body: { id, kind, subject_id, happened_at: nowText() },
      }),
    );
    onTaken();
  });
  return (
    <div class="stack stack-close">
      <Button busy={take.busy} onClick={() => void take.run()}>
        {words.take()}
      </Button>
      <ProblemNotice problem={take.problem} />
    </div>
  );
}
