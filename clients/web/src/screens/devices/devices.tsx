import { useState } from "preact/hooks";
import { all, api, need, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, dateAtSite } from "../../words/format";
import { deviceWords as words } from "../../words/devices";
import { kit } from "../../words/kit";
import { shell } from "../../words/shell";
import { useGates } from "../gates/lists";
import { NewDevice } from "./new-device";
import { type DeviceWithToken, Token } from "./token";

type Device = Wire<"DeviceView">;

/** Which devices sign in by themselves, and which of them still may? */
export default function Devices() {
  const devices = useResource(
    "devices",
    () => all(cursor => api.GET("/api/v1/devices", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["devices"] },
  );
  const [adding, setAdding] = useState(false);
  const [made, setMade] = useState<DeviceWithToken | null>(null);
  const [revoking, setRevoking] = useState<Device | null>(null);
  return (
    <Page
      title={words.title()}
      intro={words.intro()}
      actions={
        may("create_device") && (
          <Button kind="main" onClick={() => setAdding(true)}>
            {words.add()}
          </Button>
        )
      }
    >
      <Panel>
        <Loaded resource={devices}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()} />
            ) : (
              <DeviceTable rows={rows} onRevoke={setRevoking} />
            )
          }
        </Loaded>
      </Panel>
      {adding && (
        <Dialog title={words.add()} onClose={() => setAdding(false)}>
          <NewDevice
            onCancel={() => setAdding(false)}
            onMade={device => {
              setAdding(false);
              setMade(device);
              devices.reload();
            }}
          />
        </Dialog>
      )}
      {/* Nothing but its own button closes it: the token cannot be shown again. */}
      {made && <Token device={made} onDone={() => setMade(null)} />}
      {revoking && (
        <Revoke
          device={revoking}
          onClose={() => setRevoking(null)}
          onDone={() => {
            setRevoking(null);
            devices.reload();
          }}
        />
      )}
    </Page>
  );
}

const standing = (one: Device): "live" | "over" | "revoked" =>
  one.revoked_at ? "revoked" : Date.parse(one.expires_at) < Date.now() ? "over" : "live";

const ORDER = { live: 0, over: 1, revoked: 2 };

function DeviceTable({ rows, onRevoke }: { rows: Device[]; onRevoke: (one: Device) => void }) {
  const gates = useGates().data ?? [];
  const sorted = [...rows].sort(
    (one, other) => ORDER[standing(one)] - ORDER[standing(other)] || one.name.localeCompare(other.name),
  );
  return (
    <Table
      caption={words.title()}
      rows={sorted}
      keyOf={one => one.id}
      columns={[
        { title: words.name(), cell: one => one.name },
        { title: words.role(), cell: one => shell[`role_${one.role}`]() },
        { title: words.where(), cell: one => gates.find(gate => gate.id === one.gate_id)?.name ?? "–" },
        { title: words.ends(), cell: one => date(dateAtSite(one.expires_at)) },
        { title: words.state(), cell: one => <State one={one} /> },
        ...(may("delete_device")
          ? [
              {
                title: kit.change(),
                action: true,
                cell: (one: Device) =>
                  one.revoked_at ? (
                    "–"
                  ) : (
                    <Button
                      kind="quiet"
                      label={words.revoke_of({ name: one.name })}
                      onClick={() => onRevoke(one)}
                    >
                      {words.revoke()}
                    </Button>
                  ),
              },
            ]
          : []),
      ]}
    />
  );
}

function State({ one }: { one: Device }) {
  if (one.revoked_at) {
    return <Tag tone="stop">{words.revoked_since({ date: date(dateAtSite(one.revoked_at)) })}</Tag>;
  }
  return standing(one) === "over" ? (
    <Tag tone="wait">{words.over()}</Tag>
  ) : (
    <Tag tone="go">{words.live()}</Tag>
  );
}

function Revoke({ device, onClose, onDone }: { device: Device; onClose: () => void; onDone: () => void }) {
  const revoke = useAction(async () => {
    const params = { path: { device_id: device.id } };
    await need(api.DELETE("/api/v1/devices/{device_id}", { params }));
    onDone();
  });
  return (
    <Dialog title={words.revoke_title({ name: device.name })} onClose={onClose}>
      <p>{words.revoke_hint()}</p>
      <ProblemNotice problem={revoke.problem} />
      <div class="row">
        <Button kind="stop" busy={revoke.busy} onClick={() => void revoke.run()}>
          {words.revoke()}
        </Button>
        <Button onClick={onClose}>{kit.cancel()}</Button>
      </div>
    </Dialog>
  );
}
