import type { ComponentChildren } from "preact";
import { useLocation } from "preact-iso";
import { useEffect, useState } from "preact/hooks";
import { Button } from "../kit/button";
import { Dialog } from "../kit/dialog";
import { shell } from "../words/shell";
import { kit } from "../words/kit";
import { placeWords } from "../words/place";
import { day, station } from "./place";
import { GROUPS, SCREENS, to, visible } from "./screens";
import { may, session } from "./session";
import { Settings } from "./settings";
import { Connection, NewerVersion, Waiting } from "./status";
import { Wordmark } from "./wordmark";

/** What stands around every screen. A screen that is `alone` has only the line of states above it. */
export function Shell({ alone, children }: { alone: boolean; children: ComponentChildren }) {
  const [open, setOpen] = useState<"menu" | "settings" | null>(null);
  const { path } = useLocation();
  useEffect(() => setOpen(null), [path]);
  return (
    <div class={alone ? "shell shell-alone" : "shell"}>
      <a class="skip" href="#content">
        {shell.skip()}
      </a>
      <header class="top">
        <a class="top-home" href="/" aria-label={`Sellion: ${shell.start()}`}>
          <Wordmark />
        </a>
        <PlaceLink />
        <div class="top-states">
          <Waiting />
          <Connection />
        </div>
        <button
          type="button"
          class="button button-quiet top-account"
          aria-label={shell.account({ name: session.value?.display_name ?? "" })}
          onClick={() => setOpen("settings")}
        >
          {session.value?.display_name}
        </button>
        <span class="top-menu">
          <Button onClick={() => setOpen("menu")}>{shell.menu()}</Button>
        </span>
      </header>
      {!alone && (
        <nav class="rail" aria-label={shell.navigation()}>
          <Links />
        </nav>
      )}
      <main id="content" tabIndex={-1}>
        <NewerVersion />
        {children}
      </main>
      {open === "menu" && (
        <Dialog title={shell.navigation()} onClose={() => setOpen(null)}>
          <nav aria-label={shell.navigation()}>
            <Links />
          </nav>
          <Button onClick={() => setOpen(null)}>{kit.close()}</Button>
        </Dialog>
      )}
      {open === "settings" && <Settings onClose={() => setOpen(null)} />}
    </div>
  );
}

/** The day and the station this device works at, and the way to change them. */
function PlaceLink() {
  if (!may("list_days")) return <span />;
  const where = [day.value?.place, station.value?.name].filter(Boolean).join(" · ");
  return (
    <a class="top-place" href={to("/place")} aria-label={`${where} ${placeWords.change()}`}>
      {where || placeWords.choose()}
    </a>
  );
}

function Links() {
  const { path } = useLocation();
  return (
    <ul class="stack">
      {GROUPS.map(group => {
        const screens = SCREENS.filter(one => one.group === group && visible(one));
        if (screens.length === 0) return null;
        return (
          <li key={group}>
            <p class="rail-group">{shell[`group_${group}`]()}</p>
            <ul>
              {screens.map(one => (
                <li key={one.path}>
                  <a
                    class="rail-link"
                    href={to(one.path)}
                    aria-current={path.startsWith(to(one.path)) ? "page" : undefined}
                  >
                    {one.name()}
                  </a>
                </li>
              ))}
            </ul>
          </li>
        );
      })}
    </ul>
  );
}
