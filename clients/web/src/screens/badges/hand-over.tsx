import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import type { Read } from "../../badge/read";
import { codeOf, lineOf } from "../../badge/read";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { play } from "../../kit/sound";
import { CameraView, useCameraChoice } from "../../reader/camera-view";
import { hasCameras } from "../../reader/camera";
import { TypedSerial } from "../../reader/typed-serial";
import { useScanner } from "../../reader/typing";
import { badges as words, deskTodo, deskWords } from "../../words/badges";
import { reader } from "../../words/reader";

type Reading = Wire<"BadgeReadingView">;

const TONES: Record<Wire<"DeskWord">, Tone> = {
  hand_over: "go",
  hold_back: "wait",
  print_again: "check",
  not_cleared: "stop",
  handed_over: "plain",
  ended: "check",
  another_person: "stop",
  not_ours: "unknown",
};

/** A badge is read before it leaves the desk: one word says what to do with it, and giving it is said in a second step. */
export function HandOver() {
  const [reading, setReading] = useState<Reading | null>(null);
  const [given, setGiven] = useState<string | null>(null);
  const look = useAction(async (text: string) => {
    setGiven(null);
    setReading(null);
    const found = await need(api.POST("/api/v1/badge_readings", { body: { text } }));
    setReading(found);
    play(found.word === "hand_over" ? "done" : "attention");
  });
  const give = useAction(async (badge: Wire<"BadgeView">) => {
    await need(
      api.POST("/api/v1/badges/{badge_id}/hand_overs", {
        params: { path: { badge_id: badge.id } },
        body: { id: newId(), person_id: badge.person_id, happened_at: nowText() },
      }),
    );
    setReading(null);
    setGiven(badge.name);
    play("done");
  });
  const read = ({ text }: Read) => void look.run(text);
  useScanner(line => read(lineOf(line)));
  const [camera, chooseCamera] = useCameraChoice();
  const badge = reading?.badge;
  return (
    <Panel title={words.hand_over()}>
      <p class="soft">{words.hand_over_hint()}</p>
      {given && <Answer tone="go" word={words.handed_over_now({ name: given })} />}
      {reading && (
        <Answer tone={TONES[reading.word]} word={deskWords[reading.word]()}>
          {badge && <p class="strong">{words.printed_for({ name: badge.name })}</p>}
          {reading.name_now && <p>{words.name_now({ name: reading.name_now })}</p>}
          <p>{deskTodo[reading.word]()}</p>
          {badge && <p class="soft number">{words.serial({ serial: badge.serial })}</p>}
        </Answer>
      )}
      <ProblemNotice problem={look.problem ?? give.problem} />
      {badge && (
        <div class="row">
          {reading?.word === "hand_over" && (
            <Button kind="main" size="large" busy={give.busy} onClick={() => void give.run(badge)}>
              {words.to_hand_over()}
            </Button>
          )}
          <Button href={to(`/badges/one/${badge.id}`)}>{words.look_at()}</Button>
        </div>
      )}
      {camera && <CameraView onText={text => read(codeOf(text))} />}
      <TypedSerial action={words.read()} busy={look.busy} onRead={read} />
      {hasCameras() && (
        <div>
          <Button kind="quiet" onClick={() => chooseCamera(!camera)}>
            {camera ? reader.camera_off() : reader.camera()}
          </Button>
        </div>
      )}
    </Panel>
  );
}
