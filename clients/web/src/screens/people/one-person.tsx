import { useRoute } from "preact-iso";
import type { OperationId } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Page } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { person as words } from "../../words/person";
import { About } from "./about";
import { Attempts } from "./attempts";
import { Badges, Referrals, Visits } from "./histories";
import { Clearances } from "./clearances";
import { Permissions } from "./permissions";
import { apart, fullName, readPerson } from "./person";

/** What stands beside who somebody is; a clinician sees none of it. */
const HISTORIES: readonly OperationId[] = ["list_clearances", "list_attempts", "list_visits"];

/** Everything about one person that the reader may know. */
export default function OnePerson() {
  const { id = "" } = useRoute().params;
  // Nothing of the person before stays: another person is another page.
  return <Shown key={id} id={id} />;
}

function Shown({ id }: { id: string }) {
  const histories = HISTORIES.some(may);
  const found = useResource(`person ${id}`, () => readPerson(id), { nouns: ["people"] });
  return (
    <Loaded resource={found}>
      {person => (
        <Page
          title={fullName(person)}
          intro={apart(person)}
          narrow={!histories}
          actions={<Button href={to("/people")}>{words.someone_else()}</Button>}
        >
          <div class={histories ? "columns" : "stack stack-wide"}>
            {histories && (
              <div class="stack stack-wide">
                {may("list_clearances") && <Clearances personId={id} />}
                {may("list_attempts") && <Attempts personId={id} />}
                {may("list_visits") && <Visits personId={id} />}
              </div>
            )}
            <div class="stack stack-wide">
              <About person={person} onChanged={found.reload} />
              {may("list_permissions") && <Permissions personId={id} />}
              {may("list_badges") && <Badges personId={id} />}
              {may("list_referrals") && <Referrals personId={id} />}
            </div>
          </div>
        </Page>
      )}
    </Loaded>
  );
}
