// What stands around every run: who it is, what may be said at any moment, and what happens if something is not kept.
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { useAwake } from "../../app/awake";
import { undisturbed } from "../../app/session";
import type { Action } from "../../app/use-action";
import { Notice, ProblemNotice } from "../../kit/notice";
import { run as words } from "../../words/run";
import { station } from "../../words/station";
import { Big } from "./big";
import { type Case, type Chair, lane } from "./chair";
import { nameOf } from "./confirm";

/** What ends a run once it is said. */
export type Ending = "tasted" | "unwell" | "unsure" | "adjusted" | "interrupted" | "hood_off";

interface Props {
  chair: Chair;
  one: Case;
  /** What is under way: the agent or the respirator. */
  about: string;
  /** What may end it now: tasted and unwell are one touch away, the others ask once more. */
  endings: readonly Ending[];
  action: Action<[kind: Ending]>;
  children: ComponentChildren;
}

export function Frame({ chair, one, about, endings, action, children }: Props) {
  useAwake();
  const waiting = chair.box.lane(lane(one)).length;
  useEffect(() => {
    undisturbed.value = true;
    return () => void (undisturbed.value = false);
  }, []);
  useEffect(() => {
    // No name in what a browser lists.
    document.title = `${station.nav()} · Sellion`;
  }, []);
  useEffect(() => {
    if (!endings.includes("tasted")) return undefined;
    const press = (event: KeyboardEvent) => {
      const typing = event.target instanceof HTMLInputElement && event.target.type !== "radio";
      if (event.key.toLowerCase() === "t" && !event.repeat && !typing) void action.run("tasted");
    };
    window.addEventListener("keydown", press);
    return () => window.removeEventListener("keydown", press);
  }, [endings.includes("tasted")]);
  return (
    <div class="run">
      <header class="run-who">
        <h1 tabIndex={-1}>{nameOf(one)}</h1>
        <p>{about}</p>
      </header>
      {chair.unkept.value && (
        <Notice tone="stop" title={words.unkept()} urgent>
          <p>{words.unkept_more()}</p>
        </Notice>
      )}
      {!chair.unkept.value && <ProblemNotice problem={action.problem} />}
      <section class="run-now">{children}</section>
      {endings.includes("tasted") && (
        <div class="run-tasted">
          <Big kind="stop" onPress={() => void action.run("tasted")}>
            {words.tasted()}
          </Big>
        </div>
      )}
      <Endings endings={endings.filter(kind => kind !== "tasted")} action={action} />
      <footer class="run-cautions small">
        <p class="strong">{words.stop_at_once()}</p>
        <p class="soft">{words.spray()}</p>
        <p class="soft">{words.keys()}</p>
        {waiting > 0 && <p class="soft">{words.only_here({ n: waiting })}</p>}
      </footer>
    </div>
  );
}

/** Far from what goes on; all but being unwell ask once more, without hiding the clock. */
function Endings({ endings, action }: Pick<Props, "endings" | "action">) {
  const [asked, setAsked] = useState<Ending | null>(null);
  const end = (kind: Ending) => {
    setAsked(null);
    void action.run(kind);
  };
  if (asked) {
    return (
      <div
        class="run-endings run-asked"
        role="alertdialog"
        aria-label={words.really({ what: words[asked]() })}
      >
        <p class="strong">{words.really({ what: words[asked]() })}</p>
        <Big first onPress={() => setAsked(null)}>
          {words.no_on()}
        </Big>
        <Big kind="stop" onPress={() => end(asked)}>
          {words.yes_end()}
        </Big>
      </div>
    );
  }
  return (
    <div class="run-endings">
      {endings
        .filter(kind => kind !== "unwell")
        .map(kind => (
          <Big key={kind} onPress={() => setAsked(kind)}>
            {words[kind]()}
          </Big>
        ))}
      <div class="run-endings-unwell">
        <Big kind="stop" onPress={() => end("unwell")}>
          {words.unwell()}
        </Big>
      </div>
    </div>
  );
}

/** What to do now: a title, what to say, and the buttons. */
export function Step({
  title,
  say,
  children,
}: {
  title: string;
  say?: string;
  children?: ComponentChildren;
}) {
  return (
    <div class="run-step">
      <h2>{title}</h2>
      {say && <p class="run-say">“{say}”</p>}
      {children}
    </div>
  );
}
