import { useState } from "preact/hooks";
import { api, need, newId, type Role, type Wire } from "../../api/client";
import { session } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { CheckField, Checks, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { shell } from "../../words/shell";
import { userWords as words } from "../../words/users";

const ROLES = [
  "coordinator",
  "check_in",
  "tester",
  "storekeeper",
  "badge_desk",
  "gate",
  "gate_lead",
  "clinician",
  "auditor",
  "admin",
] as const satisfies readonly Role[];

interface Means {
  onStored: () => void;
  onCancel: () => void;
}

/** Shorter ones are refused by the server too; told before it is asked. */
const PASSWORD_MIN = 10;

export function NewUser({ onStored, onCancel }: Means) {
  const [id] = useState(newId);
  const form = useForm(
    { display_name: "", username: "", roles: [] as Role[], password: "" },
    {
      check: typed => ({
        ...missing(typed, "display_name", "username"),
        roles: typed.roles.length === 0 && words.none_chosen(),
        password: typed.password.length < PASSWORD_MIN && words.password_wrong(),
      }),
      refusals: { username: words.username_wrong, password: words.password_wrong },
      save: async typed => {
        await need(api.POST("/api/v1/users", { body: { id, ...typed } }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.add()} onCancel={onCancel}>
      <TextField label={words.display_name()} autocomplete="off" {...form.field("display_name")} />
      <TextField
        label={words.username()}
        hint={words.username_hint()}
        autocomplete="off"
        {...form.field("username")}
      />
      <Roles {...form.field("roles")} />
      <TextField
        label={words.password()}
        hint={words.password_hint()}
        type="password"
        autocomplete="new-password"
        {...form.field("password")}
      />
    </FormBody>
  );
}

export function EditUser({
  row,
  onStored,
  onCancel,
  onStale,
}: Means & { row: Wire<"UserView">; onStale: () => void }) {
  // The server refuses that anybody shuts themselves out; told before it is tried.
  const own = row.id === session.value?.user_id;
  const form = useForm(
    {
      display_name: row.display_name,
      roles: row.roles as Role[],
      password: "",
      disabled: Boolean(row.disabled_at),
    },
    {
      check: typed => ({
        ...missing(typed, "display_name"),
        roles: typed.roles.length === 0 && words.none_chosen(),
        password: typed.password !== "" && typed.password.length < PASSWORD_MIN && words.password_wrong(),
      }),
      refusals: { password: words.password_wrong },
      save: async ({ password, ...typed }) => {
        const params = { path: { user_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        const body = { ...typed, password: password || null };
        await need(api.PATCH("/api/v1/users/{user_id}", { params, body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <TextField label={words.display_name()} autocomplete="off" {...form.field("display_name")} />
      <Roles {...form.field("roles")} />
      <TextField
        label={words.password_new()}
        hint={words.password_keep()}
        type="password"
        autocomplete="new-password"
        {...form.field("password")}
      />
      {own ? (
        <Notice tone="plain">
          <p>{words.own()}</p>
        </Notice>
      ) : (
        <div>
          <CheckField
            label={words.close()}
            checked={form.typed.disabled}
            onValue={disabled => form.set({ disabled })}
          />
          <p class="small soft">{words.close_hint()}</p>
        </div>
      )}
    </FormBody>
  );
}

function Roles(field: { value: Role[]; onValue: (roles: Role[]) => void; problem: string | undefined }) {
  return (
    <Checks
      label={words.roles()}
      options={ROLES.map(value => ({
        value,
        label: words.role_of({ role: shell[`role_${value}`](), what: words[`role_${value}`]() }),
      }))}
      {...field}
    />
  );
}
