import type { ComponentChildren } from "preact";
import { ErrorBoundary, LocationProvider, Route, Router, useLocation } from "preact-iso";
import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { asProblem } from "../api/problem";
import { LiveRegion } from "../kit/announce";
import { Button } from "../kit/button";
import { Notice } from "../kit/notice";
import { Page } from "../kit/page";
import { screenChanges } from "../kit/title-focus";
import { Loading } from "../kit/states";
import NotFound from "../screens/not-found/not-found";
import Start from "../screens/start/start";
import { shell } from "../words/shell";
import { AtPlace } from "./at-place";
import { Enrol, offered } from "./enrol";
import { SCREENS, type Screen, to, visible } from "./screens";
import { session } from "./session";
import { Shell } from "./shell";
import { SignIn } from "./sign-in";
import { SignInAgain } from "./sign-in-again";

export function App() {
  if (session.value === undefined) return <Loading />;
  if (offered.value !== null) return <Enrol token={offered.value} />;
  return (
    <>
      {session.value ? (
        <LocationProvider scope={/^\/(screens\/.*)?$/}>
          <Screens />
        </LocationProvider>
      ) : (
        <SignIn />
      )}
      <SignInAgain />
      <LiveRegion />
    </>
  );
}

function Screens() {
  const { path } = useLocation();
  const first = useRef(true);
  useLayoutEffect(() => {
    // Before the effects of the screen itself, which looks whether it is a new one.
    if (!first.current) screenChanges();
    first.current = false;
  }, [path]);
  const shown = SCREENS.filter(visible);
  const current = shown.find(one => matches(one, path));
  return (
    <Shell alone={current?.alone ?? false}>
      <Unbroken key={path}>
        <Router>
          <Route path="/" component={Start} />
          {shown.map(one => (
            <Route key={one.path} path={to(one.path)} component={placed(one)} />
          ))}
          <Route default component={NotFound} />
        </Router>
      </Unbroken>
    </Shell>
  );
}

const placedScreens = new Map<Screen, Screen["component"]>();

/** The screen behind the question where it is used; the same component every time, or it would lose its state. */
function placed(one: Screen): Screen["component"] {
  const known = placedScreens.get(one);
  if (known) return known;
  const { at, component: Component } = one;
  const made = () => <AtPlace at={at}>{<Component />}</AtPlace>;
  placedScreens.set(one, made);
  return made;
}

const matches = (one: Screen, path: string): boolean => {
  const [wanted, given] = [to(one.path).split("/"), path.split("/")];
  return (
    wanted.length === given.length && wanted.every((part, n) => part.startsWith(":") || part === given[n])
  );
};

/** A screen that fails takes nothing else with it: the shell stays, and another screen may be chosen. */
function Unbroken({ children }: { children: ComponentChildren }) {
  const [broken, setBroken] = useState<unknown>(null);
  useEffect(() => {
    if (broken) console.warn("screen failed:", asProblem(broken).message);
  }, [broken]);
  if (broken) {
    return (
      <Page title={shell.screen_gone()} narrow>
        <Notice tone="wait" title={shell.screen_gone_todo()} urgent>
          <div class="row">
            <Button kind="main" onClick={() => location.reload()}>
              {shell.reload()}
            </Button>
          </div>
        </Notice>
      </Page>
    );
  }
  return <ErrorBoundary onError={setBroken}>{children}</ErrorBoundary>;
}
