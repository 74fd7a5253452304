import "./gate.css";
import { useEffect, useState } from "preact/hooks";
import { useAwake } from "../../app/awake";
import { codeOf, lineOf, type Read } from "../../badge/read";
import { Button } from "../../kit/button";
import { Panel } from "../../kit/page";
import { Loading } from "../../kit/states";
import { CameraView, useCameraChoice } from "../../reader/camera-view";
import { hasCameras } from "../../reader/camera";
import { TypedSerial } from "../../reader/typed-serial";
import { useScanner } from "../../reader/typing";
import { gate as words } from "../../words/gate";
import { reader } from "../../words/reader";
import { Facts } from "./facts";
import { FoundBadge } from "./found-badge";
import type { Gate } from "./gate";
import { LeadEntry } from "./lead-entry";
import { Troubles } from "./troubles";
import { useGate } from "./use-gate";
import { Verdict } from "./verdict";

/** May this person go in here, now, with the respirator used here? One answer, and nothing about anybody else. */
export default function GateScreen() {
  const gate = useGate();
  return gate ? <Door gate={gate} /> : <Loading />;
}

function Door({ gate }: { gate: Gate }) {
  useAwake();
  const [found, setFound] = useState<string | null>(null);
  const read = (read: Read) => (found === null ? void gate.scan(read) : setFound(read.text));
  useScanner(text => read(lineOf(text)));
  const [camera, chooseCamera] = useCameraChoice();
  const name = gate.link.held.value?.pack.gateName ?? words.nav();
  useEffect(() => {
    document.title = `${name} · Sellion`;
  }, [name]);
  return (
    <div class="gate">
      <header class="gate-head">
        <h1>{name}</h1>
        <p class="soft">{words.title()}</p>
      </header>
      <Facts link={gate.link} />
      <Troubles gate={gate} />
      <section class="gate-now">
        <Verdict gate={gate} camera={camera} />
      </section>
      <div class="gate-side">
        <Panel>
          {camera && <CameraView onText={text => read(codeOf(text))} />}
          {hasCameras() && (
            <div>
              <Button onClick={() => chooseCamera(!camera)}>
                {camera ? reader.camera_off() : reader.camera()}
              </Button>
            </div>
          )}
          <TypedSerial action={words.answer()} busy={gate.asking.value} onRead={read} />
        </Panel>
        <LeadEntry gate={gate} />
        <FoundBadge gate={gate} read={found} onRead={setFound} />
      </div>
      <footer class="gate-cautions small">
        <p class="strong">{words.caution_emergency()}</p>
        <p class="soft">{words.caution()}</p>
        <p class="soft">{words.caution_pass()}</p>
      </footer>
    </div>
  );
}
