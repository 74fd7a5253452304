import "./keys.css";
import { api, need, type Wire } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, dateAtSite } from "../../words/format";
import { keyWords as words } from "../../words/keys";

type State = Wire<"SigningKeyView">["state"];

const TONES: Record<State, "go" | "wait" | "plain" | "stop"> = {
  stands_by: "wait",
  signs: "go",
  accepted: "go",
  retired: "plain",
  withdrawn: "stop",
};

const COMMANDS = ["list", "create", "rotate", "retire", "withdraw", "reseal"] as const;

/** Which keys sign badges? A screen knows how each stands, and nothing of the half that signs. */
export default function Keys() {
  const keys = useResource("keys", async () => (await need(api.GET("/api/v1/signing_keys"))).items, {
    everyMs: 60_000,
  });
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Panel>
        <Loaded resource={keys}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()} />
            ) : (
              <Table
                caption={words.title()}
                rows={[...rows].reverse()}
                keyOf={one => one.kid}
                columns={[
                  { title: words.key(), cell: one => <span class="keys-name">{one.kid}</span> },
                  {
                    title: words.state(),
                    cell: one => <Tag tone={TONES[one.state]}>{words[`state_${one.state}`]()}</Tag>,
                  },
                  { title: words.made(), cell: one => date(dateAtSite(one.created_at)) },
                  { title: words.in_force(), cell: one => one.badges_in_force, number: true },
                ]}
              />
            )
          }
        </Loaded>
      </Panel>
      <Panel title={words.published()}>
        <p class="soft">{words.published_hint()}</p>
        <p>
          <a class="keys-name" href="/.well-known/jwks.json">
            {`${location.origin}/.well-known/jwks.json`}
          </a>
        </p>
      </Panel>
      <Panel title={words.commands()}>
        <p class="soft">{words.commands_hint()}</p>
        <dl class="keys-commands">
          {COMMANDS.map(one => (
            <div key={one}>
              <dt class="keys-name">{`sellion key ${one}`}</dt>
              <dd>{words[one]()}</dd>
            </div>
          ))}
        </dl>
      </Panel>
    </Page>
  );
}
