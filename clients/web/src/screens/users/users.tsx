import { useState } from "preact/hooks";
import { all, api, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Edited } from "../../kit/form";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, dateAtSite, list } from "../../words/format";
import { kit } from "../../words/kit";
import { shell } from "../../words/shell";
import { userWords as words } from "../../words/users";
import { EditUser, NewUser } from "./user-form";

type User = Wire<"UserView">;

/** Who signs in here, and what may each of them do? */
export default function Users() {
  const users = useResource(
    "users",
    () => all(cursor => api.GET("/api/v1/users", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["users"] },
  );
  const [open, setOpen] = useState<"new" | string | null>(null);
  const close = () => setOpen(null);
  const stored = () => {
    close();
    users.reload();
  };
  const edited = users.data?.find(one => one.id === open);
  return (
    <Page
      title={words.title()}
      intro={words.intro()}
      actions={
        may("create_user") && (
          <Button kind="main" onClick={() => setOpen("new")}>
            {words.add()}
          </Button>
        )
      }
    >
      <Panel>
        <Loaded resource={users}>{rows => <UserTable rows={rows} onEdit={one => setOpen(one.id)} />}</Loaded>
      </Panel>
      {open === "new" && (
        <Dialog title={words.add()} onClose={close}>
          <NewUser onStored={stored} onCancel={close} />
        </Dialog>
      )}
      {edited && (
        <Dialog title={words.edit({ name: edited.display_name })} onClose={close}>
          <Edited row={edited}>
            {row => <EditUser row={row} onStored={stored} onCancel={close} onStale={users.reload} />}
          </Edited>
        </Dialog>
      )}
    </Page>
  );
}

/** Closed accounts stand last: they are kept for the names on what was entered. */
const byName = (one: User, other: User) =>
  Number(Boolean(one.disabled_at)) - Number(Boolean(other.disabled_at)) ||
  one.display_name.localeCompare(other.display_name);

function UserTable({ rows, onEdit }: { rows: User[]; onEdit: (one: User) => void }) {
  return (
    <Table
      caption={words.title()}
      rows={[...rows].sort(byName)}
      keyOf={one => one.id}
      columns={[
        { title: words.name(), cell: one => one.display_name },
        { title: words.username(), cell: one => one.username },
        { title: words.roles(), cell: one => list(one.roles.map(role => shell[`role_${role}`]())) },
        { title: words.state(), cell: one => <State one={one} /> },
        ...(may("update_user")
          ? [
              {
                title: kit.change(),
                action: true,
                cell: (one: User) => (
                  <Button
                    kind="quiet"
                    label={kit.change_of({ name: one.display_name })}
                    onClick={() => onEdit(one)}
                  >
                    {kit.change()}
                  </Button>
                ),
              },
            ]
          : []),
      ]}
    />
  );
}

function State({ one }: { one: User }) {
  if (!one.disabled_at) return <Tag tone="go">{words.open()}</Tag>;
  return <Tag tone="plain">{words.closed_since({ date: date(dateAtSite(one.disabled_at)) })}</Tag>;
}
