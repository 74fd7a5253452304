import "./keys.css";
import { api, need } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { keyWords as words } from "../../words/keys";

/** A public key as RFC 7517 and RFC 7518 name its members. */
interface Jwk {
  kid: string;
  alg?: string;
  crv?: string;
}

const COMMANDS = ["list", "create", "rotate", "retire", "withdraw", "reseal"] as const;

/** Which keys sign badges? What a screen may know of them is what anybody may: their public halves. */
export default function Keys() {
  const keys = useResource("keys", async () => {
    const set = await need(api.GET("/.well-known/jwks.json"));
    return set.keys as unknown as Jwk[];
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
                rows={rows}
                keyOf={one => one.kid}
                columns={[
                  { title: words.key(), cell: one => <span class="keys-name">{one.kid}</span> },
                  {
                    title: words.kind(),
                    cell: one => words.kind_of({ alg: one.alg ?? "–", curve: one.crv ?? "–" }),
                  },
                  { title: words.accepted(), cell: () => <Tag tone="go">{words.accepted()}</Tag> },
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
