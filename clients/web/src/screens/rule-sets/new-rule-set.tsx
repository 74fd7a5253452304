import "./rule-sets.css";
import { useLocation } from "preact-iso";
import { useRef, useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import type { Problem } from "../../api/problem";
import { missing, useForm } from "../../app/use-form";
import { Button } from "../../kit/button";
import { FileField, TextArea } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { dateAtSite } from "../../words/format";
import { kit } from "../../words/kit";
import { ruleSetWords as words } from "../../words/rule-sets";
import { ruleSetPath } from "./lists";
import { type Mistake, mistakesOf, placeOf } from "./mistakes";

/** A set of the site's own: its text is checked by the server, and every mistake is led to by line and column. */
export default function NewRuleSet() {
  const { query, route } = useLocation();
  const [id] = useState(newId);
  const area = useRef<HTMLTextAreaElement | null>(null);
  const [unread, setUnread] = useState(false);
  const form = useForm(() => ({ text: beginning(query["upon"] ?? "") }), {
    check: typed => missing(typed, "text"),
    save: async ({ text }) => {
      const body = { id, document: text, happened_at: nowText() };
      route(ruleSetPath(await need(api.POST("/api/v1/rule_sets", { body }))));
    },
  });
  const read = async (file: File) => {
    try {
      // Anything that is no UTF-8 is refused here, rather than stored with letters lost.
      form.set({ text: new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer()) });
      setUnread(false);
    } catch {
      setUnread(true);
    }
  };
  const lead = (mistake: Mistake) => {
    const at = placeOf(form.typed.text, mistake);
    area.current?.focus();
    area.current?.setSelectionRange(at, at);
  };
  return (
    <Page title={words.upload_title()} intro={words.upload_intro()}>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <FileField
          label={words.file()}
          accept=".toml,text/plain"
          onFile={file => void read(file)}
          problem={unread ? kit.file_unreadable() : undefined}
        />
        <FormBody form={form} submit={words.store()}>
          <div class="rule-sets-document">
            <TextArea
              label={words.document()}
              hint={words.document_hint()}
              areaRef={element => (area.current = element)}
              {...form.field("text")}
              problem={form.fault("text") ?? form.fault("document")}
            />
          </div>
          <Mistakes problem={form.problem} onLead={lead} />
        </FormBody>
      </Panel>
    </Page>
  );
}

function Mistakes({ problem, onLead }: { problem: Problem | undefined; onLead: (one: Mistake) => void }) {
  const found = mistakesOf(problem);
  if (found.length === 0) return null;
  return (
    <section class="stack" aria-label={words.mistakes({ n: found.length })}>
      <h2>{words.mistakes({ n: found.length })}</h2>
      <Table
        caption={words.mistakes({ n: found.length })}
        rows={found}
        keyOf={one => `${one.line}:${one.column}:${one.key}:${one.reason}`}
        columns={[
          {
            title: words.place(),
            cell: one => (
              <Button kind="quiet" onClick={() => onLead(one)}>
                {words.place_at({ line: one.line, column: one.column })}
              </Button>
            ),
          },
          {
            title: words.key(),
            cell: one => (one.key ? <span class="rule-sets-key">{one.key}</span> : words.whole()),
          },
          {
            title: words.reason(),
            cell: one => (
              <>
                {one.kind === "malformed" ? words.kind_malformed() : words.kind_looser()}
                <br />
                <span class="small soft">{one.reason}</span>
              </>
            ),
          },
        ]}
      />
    </section>
  );
}

/** The head of a new set, upon the one it was asked for from: what stands below it is for the site. */
function beginning(upon: string): string {
  const [name, version] = upon.split(" ");
  if (!name || !version) return "";
  return `name = ""
version = "${dateAtSite()}.1"
title = ""
based_on = [{ name = "${name}", version = "${version}" }]
`;
}
