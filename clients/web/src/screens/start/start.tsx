import "./start.css";
import { useLocation } from "preact-iso";
import { useEffect } from "preact/hooks";
import { GROUPS, SCREENS, to, visible } from "../../app/screens";
import { isDevice } from "../../app/session";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { shell } from "../../words/shell";

/** What whoever is signed in may do here. */
export default function Start() {
  const groups = GROUPS.map(group => ({
    group,
    screens: SCREENS.filter(one => one.group === group && visible(one)),
  })).filter(({ screens }) => screens.length > 0);
  const { route } = useLocation();
  const [only, ...others] = groups.flatMap(({ screens }) => screens);
  const goesOn = isDevice.value && only && others.length === 0 ? to(only.path) : undefined;
  useEffect(() => {
    // A gate's device is for one thing.
    if (goesOn) route(goesOn, true);
  }, [goesOn]);
  return (
    <Page title={shell.start_title()}>
      {groups.length === 0 && <Notice tone="plain" title={shell.start_none()} />}
      <div class="start">
        {groups.map(({ group, screens }) => (
          <Panel key={group} title={shell[`group_${group}`]()}>
            <ul class="rows">
              {screens.map(one => (
                <li key={one.path}>
                  <a class="row-link start-link" href={to(one.path)}>
                    {one.name()}
                    <svg viewBox="0 0 24 24" width="24" height="24" aria-hidden="true">
                      <path d="M9 5l7 7-7 7" fill="none" stroke="currentColor" stroke-width="2.4" />
                    </svg>
                  </a>
                </li>
              ))}
            </ul>
          </Panel>
        ))}
      </div>
    </Page>
  );
}
