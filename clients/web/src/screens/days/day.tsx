import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Edited } from "../../kit/form";
import { ProblemNotice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { date, dateAtSite } from "../../words/format";
import { dayWords as words } from "../../words/days";
import { kit } from "../../words/kit";
import { shell } from "../../words/shell";
import { EditDay } from "./day-form";
import { DayState, hours } from "./days";
import { type Day, useDays } from "./lists";
import { Stations } from "./stations";

/** One day: where, when, under which rules, and with which stations. */
export default function OneDay() {
  const { id = "" } = useRoute().params;
  const days = useDays();
  const [open, setOpen] = useState<"edit" | "close" | null>(null);
  const close = () => setOpen(null);
  const stored = () => {
    close();
    days.reload();
  };
  return (
    <Loaded resource={days}>
      {rows => {
        const day = rows.find(one => one.id === id);
        if (!day) return <Page title={shell.not_found()} narrow />;
        return (
          <Page title={day.place} intro={date(dateAtSite(day.opens_at))}>
            <Panel
              title={words.hours()}
              actions={
                may("update_day") && (
                  <div class="row">
                    <Button onClick={() => setOpen("edit")}>{words.edit()}</Button>
                    <Button onClick={() => setOpen("close")}>
                      {day.closed_at ? words.reopen() : words.close()}
                    </Button>
                  </div>
                )
              }
            >
              <div class="row">
                <DayState day={day} />
              </div>
              <Facts
                facts={[
                  [words.hours(), hours(day)],
                  [words.rule_set(), `${day.rule_set.name} ${day.rule_set.version}`],
                ]}
              />
            </Panel>
            <Stations day={day} others={rows.filter(one => one.id !== id)} />
            {open === "edit" && (
              <Dialog title={words.edit()} onClose={close}>
                <Edited row={day}>
                  {row => <EditDay row={row} onStored={stored} onCancel={close} onStale={days.reload} />}
                </Edited>
              </Dialog>
            )}
            {open === "close" && <CloseDay day={day} onClose={close} onDone={stored} onStale={days.reload} />}
          </Page>
        );
      }}
    </Loaded>
  );
}

interface CloseProps {
  day: Day;
  onClose: () => void;
  onDone: () => void;
  onStale: () => void;
}

function CloseDay({ day, onClose, onDone, onStale }: CloseProps) {
  const closed = !day.closed_at;
  const save = useAction(async () => {
    const params = { path: { day_id: day.id }, header: { "If-Match": `"${day.version}"` } };
    await need(api.PATCH("/api/v1/days/{day_id}", { params, body: { closed } })).catch((error: unknown) => {
      // Whoever was quicker is shown behind the dialog; the next try is made on top of theirs.
      onStale();
      throw error;
    });
    onDone();
  });
  return (
    <Dialog title={closed ? words.close_title() : words.reopen()} onClose={onClose}>
      {closed && <p>{words.close_hint()}</p>}
      <ProblemNotice problem={save.problem} />
      <div class="row">
        <Button kind="main" busy={save.busy} onClick={() => void save.run()}>
          {closed ? words.close() : words.reopen()}
        </Button>
        <Button onClick={onClose}>{kit.cancel()}</Button>
      </div>
    </Dialog>
  );
}
