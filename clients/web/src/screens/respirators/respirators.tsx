import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextField } from "../../kit/field";
import { holds } from "../../kit/filter";
import { Edited } from "../../kit/form";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dateAtSite, date } from "../../words/format";
import { kit } from "../../words/kit";
import { respiratorWords as words } from "../../words/respirators";
import { useRespirators } from "../stores/lists";
import { type Respirator, respiratorName } from "../stores/names";
import { EditRespirator, NewRespirator } from "./respirator-form";

/** Which respirators are used here? */
export default function Respirators() {
  const respirators = useRespirators();
  const [open, setOpen] = useState<"new" | string | null>(null);
  const [filter, setFilter] = useState("");
  const close = () => setOpen(null);
  const stored = () => {
    close();
    respirators.reload();
  };
  const edited = respirators.data?.find(one => one.id === open);
  return (
    <Page
      title={words.title()}
      intro={words.intro()}
      actions={
        may("create_respirator") && (
          <Button kind="main" onClick={() => setOpen("new")}>
            {words.add()}
          </Button>
        )
      }
    >
      <Panel>
        <Loaded resource={respirators}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()}>
                <p>{words.none_todo()}</p>
              </Empty>
            ) : (
              <>
                <TextField label={words.filter()} type="search" value={filter} onValue={setFilter} />
                <RespiratorTable
                  rows={rows.filter(one => fits(one, filter))}
                  onEdit={one => setOpen(one.id)}
                />
              </>
            )
          }
        </Loaded>
      </Panel>
      {open === "new" && (
        <Dialog title={words.add()} onClose={close}>
          <NewRespirator onStored={stored} onCancel={close} />
        </Dialog>
      )}
      {edited && (
        <Dialog title={words.edit({ name: respiratorName(edited) })} onClose={close}>
          <Edited row={edited}>
            {row => (
              <EditRespirator row={row} onStored={stored} onCancel={close} onStale={respirators.reload} />
            )}
          </Edited>
        </Dialog>
      )}
    </Page>
  );
}

const fits = (one: Respirator, filter: string) =>
  holds(
    filter,
    respiratorName(one),
    one.filter_class,
    one.approval_number,
    ...one.other_names,
    words[`facepiece_${one.facepiece}`](),
  );

function RespiratorTable({ rows, onEdit }: { rows: Respirator[]; onEdit: (one: Respirator) => void }) {
  return (
    <Table
      caption={words.title()}
      rows={[...rows].sort((one, other) => one.number - other.number)}
      keyOf={one => one.id}
      columns={[
        { title: words.name(), cell: one => <Name one={one} /> },
        { title: words.number(), cell: one => one.number, number: true },
        { title: words.facepiece(), cell: one => words[`facepiece_${one.facepiece}`]() },
        { title: words.filter_class(), cell: one => one.filter_class },
        { title: words.approval_number(), cell: one => one.approval_number ?? "–" },
        { title: words.protection_factor(), cell: one => one.protection_factor, number: true },
        { title: words.state(), cell: one => <State one={one} /> },
        ...(may("update_respirator")
          ? [
              {
                title: kit.change(),
                action: true,
                cell: (one: Respirator) => (
                  <Button
                    kind="quiet"
                    label={kit.change_of({ name: respiratorName(one) })}
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

function Name({ one }: { one: Respirator }) {
  return (
    <>
      {respiratorName(one)}
      {one.other_names.length > 0 && <div class="small soft">{one.other_names.join(", ")}</div>}
    </>
  );
}

function State({ one }: { one: Respirator }) {
  if (!one.retired_at) return <Tag tone="go">{words.in_use()}</Tag>;
  return (
    <>
      <Tag tone="plain">{words.retired()}</Tag>
      <div class="small soft">{words.since({ date: date(dateAtSite(one.retired_at)) })}</div>
    </>
  );
}
