import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { isOpen, openDays, stationsOf } from "../../app/place";
import { missing, useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { Choice, SelectField, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { shortDay } from "../../words/format";
import { deviceWords as words } from "../../words/devices";
import { shell } from "../../words/shell";
import { useGates } from "../gates/lists";
import type { DeviceWithToken } from "./token";

/** What a device may be: nothing that decides about people or sets anything up. */
const ROLES = ["gate", "check_in", "tester", "badge_desk"] as const satisfies readonly Wire<"Role">[];
type Does = (typeof ROLES)[number];

const LIFE_DAYS = "400";

interface Props {
  onMade: (device: DeviceWithToken) => void;
  onCancel: () => void;
}

export function NewDevice({ onMade, onCancel }: Props) {
  const [id] = useState(newId);
  const gates = useGates();
  const stations = useStations();
  const form = useForm(
    { name: "", role: null as Does | null, gate_id: "", station_id: "", life_days: LIFE_DAYS },
    {
      check: typed => ({
        ...missing(typed, "name", "role", ...(typed.role === "gate" ? (["gate_id"] as const) : [])),
        life_days: !/^\d+$/.test(typed.life_days.trim()) && words.life_wrong(),
      }),
      refusals: { life_days: words.life_wrong },
      save: async ({ name, role, gate_id, station_id, life_days }) => {
        if (role === null) return;
        const where = role === "gate" ? { gate_id } : { station_id: station_id === "" ? null : station_id };
        const body = { id, name, role, ...where, life_days: Number(life_days) };
        onMade(await need(api.POST("/api/v1/devices", { body })));
      },
    },
  );
  const { role } = form.typed;
  const gateOptions = (gates.data ?? []).map(one => ({ value: one.id, label: one.name }));
  return (
    <FormBody form={form} submit={words.add()} onCancel={onCancel}>
      <TextField label={words.name()} hint={words.name_hint()} autocomplete="off" {...form.field("name")} />
      <Choice
        label={words.role()}
        options={ROLES.map(value => ({ value, label: shell[`role_${value}`]() }))}
        {...form.field("role")}
      />
      {role === "gate" && (
        <SelectField
          label={words.gate()}
          hint={gates.data?.length === 0 ? words.gates_none() : undefined}
          options={gateOptions}
          {...form.field("gate_id")}
        />
      )}
      {role !== null && role !== "gate" && stations.length > 0 && (
        <SelectField
          label={words.station()}
          options={[{ value: "none", label: words.station_any() }, ...stations]}
          value={form.typed.station_id || "none"}
          onValue={value => form.set({ station_id: value === "none" ? "" : value })}
          problem={form.fault("station_id")}
        />
      )}
      <TextField
        label={words.life()}
        hint={words.life_hint()}
        inputMode="numeric"
        {...form.field("life_days")}
      />
    </FormBody>
  );
}

/** The stations of open days, for whoever may see them: an administrator who runs no day does not. */
function useStations() {
  const found = useResource(
    may("list_days") && may("list_stations") ? "stations of open days" : null,
    async () => {
      const days = await openDays();
      const lists = await Promise.all(days.map(one => stationsOf(one.id)));
      return days.flatMap((one, n) =>
        (lists[n] ?? []).filter(isOpen).map(({ id, name }) => ({
          value: id,
          label: `${name} · ${one.place}, ${shortDay(one.opens_at)}`,
        })),
      );
    },
    { nouns: ["days", "stations"] },
  );
  return found.data ?? [];
}
