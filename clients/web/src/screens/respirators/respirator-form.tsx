import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { CheckField, SelectField, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { Facts } from "../../kit/page";
import { respiratorWords as words } from "../../words/respirators";
import type { Respirator } from "../stores/names";

type Facepiece = Wire<"Facepiece">;
type Air = Wire<"AirSupply">;

export const FACEPIECES = [
  "filtering_facepiece",
  "quarter_mask",
  "half_mask",
  "full_facepiece",
  "helmet_or_hood",
  "loose_fitting",
] as const satisfies readonly Facepiece[];

const AIRS = [
  "air_purifying",
  "powered",
  "supplied_demand",
  "supplied_continuous",
  "supplied_pressure_demand",
  "self_contained_demand",
  "self_contained_pressure_demand",
] as const satisfies readonly Air[];

/** Published classes: 42 CFR 84.170, EN 149, EN 143. Anything else may be typed. */
export const FILTER_CLASSES = [
  ...["N95", "N99", "N100", "R95", "R99", "R100", "P95", "P99", "P100", "HEPA"],
  ...["FFP1", "FFP2", "FFP3", "P1", "P2", "P3"],
];

export const facepieceOptions = () =>
  FACEPIECES.map(value => ({ value, label: words[`facepiece_${value}`]() }));

interface Means {
  onStored: () => void;
  onCancel: () => void;
}

export function NewRespirator({ onStored, onCancel }: Means) {
  const [id] = useState(newId);
  const form = useForm(
    {
      make: "",
      model: "",
      style: "",
      size: "",
      facepiece: "" as Facepiece | "",
      air_supply: "air_purifying" as Air,
      filter_class: "",
      approval_number: "",
      protection_factor: "",
      other_names: "",
    },
    {
      check: typed => ({
        ...missing(typed, "make", "model", "size", "facepiece", "filter_class"),
        protection_factor: !/^\d*$/.test(typed.protection_factor.trim()) && words.protection_wrong(),
      }),
      refusals: { protection_factor: words.protection_wrong, other_names: words.other_names_wrong },
      save: async ({ facepiece, approval_number, protection_factor, other_names, ...typed }) => {
        if (facepiece === "") return;
        const body: Wire<"NewRespirator"> = {
          id,
          ...typed,
          facepiece,
          approval_number: approval_number.trim() || null,
          other_names: apart(other_names),
          protection_factor: protection_factor.trim() === "" ? null : Number(protection_factor),
        };
        await need(api.POST("/api/v1/respirators", { body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.add()} onCancel={onCancel}>
      <FieldRow>
        <TextField label={words.make()} autocomplete="off" {...form.field("make")} />
        <TextField label={words.model()} autocomplete="off" {...form.field("model")} />
      </FieldRow>
      <FieldRow>
        <TextField label={words.style()} hint={words.style_hint()} {...form.field("style")} />
        <TextField label={words.size()} {...form.field("size")} />
      </FieldRow>
      <SelectField label={words.facepiece()} options={facepieceOptions()} {...form.field("facepiece")} />
      <SelectField
        label={words.air_supply()}
        options={AIRS.map(value => ({ value, label: words[`air_${value}`]() }))}
        {...form.field("air_supply")}
      />
      <FilterClass {...form.field("filter_class")} />
      <TextField
        label={words.approval_number()}
        hint={words.approval_hint()}
        {...form.field("approval_number")}
      />
      <TextField
        label={words.protection_factor()}
        hint={words.protection_hint()}
        inputMode="numeric"
        {...form.field("protection_factor")}
      />
      <OtherNames {...form.field("other_names")} />
    </FormBody>
  );
}

export function EditRespirator({
  row,
  onStored,
  onCancel,
  onStale,
}: Means & { row: Respirator; onStale: () => void }) {
  const form = useForm(
    {
      filter_class: row.filter_class,
      approval_number: row.approval_number ?? "",
      other_names: row.other_names.join(", "),
      retired: Boolean(row.retired_at),
    },
    {
      check: typed => missing(typed, "filter_class"),
      refusals: { other_names: words.other_names_wrong },
      save: async ({ approval_number, other_names, ...typed }) => {
        const params = { path: { respirator_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        const body = {
          ...typed,
          approval_number: approval_number.trim() || null,
          other_names: apart(other_names),
        };
        await need(api.PATCH("/api/v1/respirators/{respirator_id}", { params, body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <Facts
        facts={[
          [words.facepiece(), words[`facepiece_${row.facepiece}`]()],
          [words.air_supply(), words[`air_${row.air_supply}`]()],
          [words.protection_factor(), row.protection_factor],
        ]}
      />
      <p class="small soft">{words.fixed()}</p>
      <FilterClass {...form.field("filter_class")} />
      <TextField
        label={words.approval_number()}
        hint={words.approval_hint()}
        {...form.field("approval_number")}
      />
      <OtherNames {...form.field("other_names")} />
      <div>
        <CheckField
          label={words.retire()}
          checked={form.typed.retired}
          onValue={retired => form.set({ retired })}
        />
        <p class="small soft">{words.retire_hint()}</p>
      </div>
    </FormBody>
  );
}

interface Field {
  value: string;
  onValue: (value: string) => void;
  problem: string | undefined;
}

/** The names in a line of them. */
const apart = (line: string): string[] =>
  line
    .split(",")
    .map(name => name.trim())
    .filter(name => name !== "");

function OtherNames(field: Field) {
  return (
    <TextField label={words.other_names()} hint={words.other_names_hint()} autocomplete="off" {...field} />
  );
}

function FilterClass(field: Field) {
  return (
    <TextField
      label={words.filter_class()}
      hint={words.filter_class_hint()}
      suggestions={FILTER_CLASSES}
      autocomplete="off"
      {...field}
    />
  );
}
