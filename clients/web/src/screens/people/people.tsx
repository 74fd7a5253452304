import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { person as words } from "../../words/person";
import { FindPerson } from "./find-person";
import { NewPerson } from "./new-person";
import type { Person } from "./person";

/** Who are you looking for? A number is somebody, a name is a list to choose from. */
export default function People() {
  const { route } = useLocation();
  const [adding, setAdding] = useState(false);
  const open = (one: Person) => route(to(`/people/${one.id}`));
  return (
    <Page
      title={words.title()}
      narrow
      actions={
        <>
          {may("preview_roster_import") && <Button href={to("/roster")}>{words.roster()}</Button>}
          {may("create_person") && !adding && (
            <Button onClick={() => setAdding(true)}>{words.new_person()}</Button>
          )}
        </>
      }
    >
      {adding ? (
        <Panel title={words.new_title()}>
          <NewPerson
            staffToo={may("preview_roster_import")}
            onMade={open}
            onCancel={() => setAdding(false)}
          />
        </Panel>
      ) : (
        <Panel>
          <FindPerson onFound={open} />
        </Panel>
      )}
    </Page>
  );
}
