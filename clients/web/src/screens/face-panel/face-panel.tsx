import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { TextArea, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { play } from "../../kit/sound";
import { facePanelWords as words } from "../../words/face-panel";
import { readCells } from "./cells";

/** Which face lengths belong together? */
export default function FacePanel() {
  const [loaded, setLoaded] = useState<Wire<"FacePanelView"> | null>(null);
  const [id, setId] = useState(newId);
  const form = useForm(
    { name: "", source: "", cells: "" },
    {
      check: typed => {
        const read = readCells(typed.cells);
        return {
          ...missing(typed, "name", "source", "cells"),
          ...("wrong" in read ? { cells: words.cell_wrong({ n: read.wrong }) } : {}),
        };
      },
      refusals: { cells: words.cells_overlap },
      save: async ({ name, source, cells }) => {
        const read = readCells(cells);
        if ("wrong" in read) return;
        const body = { id, name, source, cells: read.cells, happened_at: nowText() };
        setLoaded(await need(api.POST("/api/v1/face_panels", { body })));
        setId(newId());
        play("done");
      },
    },
  );
  return (
    <Page title={words.title()} intro={words.intro()} narrow>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <FormBody form={form} submit={words.load()}>
          <TextField label={words.name()} autocomplete="off" {...form.field("name")} />
          <TextField
            label={words.source()}
            hint={words.source_hint()}
            autocomplete="off"
            {...form.field("source")}
          />
          <TextArea label={words.cells()} hint={words.cells_hint()} rows={8} {...form.field("cells")} />
        </FormBody>
        {loaded && (
          <Notice tone="go" title={words.loaded({ name: loaded.name, n: loaded.cells.length })} urgent />
        )}
      </Panel>
    </Page>
  );
}
