// How a device is given its token by a code: the address carries it behind the #, which no browser sends to a server
// and no server writes into a log. It is taken out of the address at once, and used only when somebody says so.
import { signal } from "@preact/signals";
import { Button } from "../kit/button";
import { ProblemNotice } from "../kit/notice";
import { Page, Panel } from "../kit/page";
import { deviceWords as words } from "../words/devices";
import { becomeDevice, session } from "./session";
import { useAction } from "./use-action";

const MARK = "#device=";

/** The token this browser was opened with, until somebody has decided. */
export const offered = signal<string | null>(null);

export const enrolAddress = (origin: string, token: string): string =>
  `${origin.replace(/\/+$/, "")}/${MARK}${token}`;

/** At the start of the program. */
export function readOffer(): void {
  if (!location.hash.startsWith(MARK)) return;
  offered.value = decodeURIComponent(location.hash.slice(MARK.length));
  history.replaceState(null, "", location.pathname);
}

/** Asks before this browser becomes a device: a code on a wall may have been opened on the wrong phone. */
export function Enrol({ token }: { token: string }) {
  const take = useAction(async () => {
    await becomeDevice(token);
    offered.value = null;
  });
  const person = session.value?.display_name;
  return (
    <main id="content">
      <Page title={words.enrol_title()} narrow>
        <Panel>
          <p>{words.enrol_text()}</p>
          {person && <p>{words.enrol_person({ name: person })}</p>}
          <ProblemNotice problem={take.problem} />
          <div class="row">
            <Button kind="main" size="large" busy={take.busy} onClick={() => void take.run()}>
              {words.enrol_take()}
            </Button>
            <Button size="large" onClick={() => (offered.value = null)}>
              {words.enrol_not()}
            </Button>
          </div>
        </Panel>
      </Page>
    </main>
  );
}
