import { useEffect, useState } from "preact/hooks";
import { newId, nowText, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { lineOf } from "../../badge/read";
import { TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { serialFault } from "../../reader/typed-serial";
import { badges as words } from "../../words/badges";

interface Props {
  /** What a camera or a scanner read while the form stands there. */
  read?: string;
  keep: (find: Wire<"NewBadgeFind">) => Promise<unknown>;
  /** What to do with the badge, once it is written down. */
  kept: string;
  onCancel?: () => void;
}

const EMPTY = { text: "", place: "" };

/** A badge that was found, and where. Whoever writes it down learns nothing of it. */
export function FindForm({ read = "", keep, kept, onCancel }: Props) {
  // The same find sent twice is one find.
  const [id, setId] = useState(newId);
  const [done, setDone] = useState(false);
  const form = useForm(EMPTY, {
    check: typed => ({
      ...missing(typed, "place"),
      text: missing(typed, "text").text || serialFault(typed.text),
    }),
    save: async ({ text, place }) => {
      setDone(false);
      await keep({ id, text: lineOf(text).text, place: place.trim(), happened_at: nowText() });
      setId(newId());
      form.set(EMPTY);
      setDone(true);
    },
  });
  useEffect(() => {
    if (read) form.set({ text: read });
  }, [read]);
  return (
    <FormBody form={form} submit={words.found_keep()} kind="plain" {...(onCancel && { onCancel })}>
      <p class="soft">{words.found_hint()}</p>
      <TextField label={words.found_read()} autocomplete="off" maxLength={800} {...form.field("text")} />
      <TextField label={words.found_place()} maxLength={200} {...form.field("place")} />
      {done && <Notice tone="go" title={kept} urgent />}
    </FormBody>
  );
}
