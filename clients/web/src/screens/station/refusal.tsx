// The server refused something that this device had kept. Nothing is thrown away before a person has read why.
import { useAction } from "../../app/use-action";
import { Problem, type ProblemCode } from "../../api/problem";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Page } from "../../kit/page";
import type { Entry } from "../../outbox";
import { station as words } from "../../words/station";
import type { Chair } from "./chair";

export function Refusal({ chair, entry }: { chair: Chair; entry: Entry }) {
  const again = useAction(() => chair.box.again(entry));
  const give = useAction(() => chair.giveWay(entry));
  const late = useAction(() => chair.tellAfterwards(entry));
  const refused = entry.refused;
  if (!refused) return null;
  const problem = new Problem(refused.code as ProblemCode, refused.detail, refused.status, refused.facts);
  return (
    <Page title={words.refused()} intro={words.refused_more()}>
      <ProblemNotice problem={problem} />
      <div class="row">
        <Button size="large" kind="main" busy={again.busy} onClick={() => void again.run()}>
          {words.send_again()}
        </Button>
        {!entry.path.endsWith("/events") && (
          <Button size="large" busy={late.busy} onClick={() => void late.run()}>
            {words.tell_afterwards()}
          </Button>
        )}
        <Button size="large" busy={give.busy} onClick={() => void give.run()}>
          {words.give_way()}
        </Button>
      </div>
      <ProblemNotice problem={again.problem ?? give.problem} />
    </Page>
  );
}
