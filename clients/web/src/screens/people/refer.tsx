import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { SelectField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { ProblemNotice } from "../../kit/notice";
import { Loading } from "../../kit/states";
import { shortDay } from "../../words/format";
import { kit } from "../../words/kit";
import { person as words } from "../../words/person";
import { useDays } from "../days/lists";
import { useVisits } from "./visits";

type Visit = Wire<"VisitView">;
type Reason = Wire<"ReferralReason">;

const REASONS = [
  "cannot_taste",
  "method_not_allowed",
  "ladder_used_up",
  "disputed",
  "other",
] as const satisfies Reason[];

interface Props {
  personId: string;
  onReferred: () => void;
}

/** The way to send somebody on to another kind of test, also without any test before. */
export function Refer({ personId, onReferred }: Props) {
  const [asking, setAsking] = useState(false);
  const close = () => setAsking(false);
  return (
    <>
      <Button onClick={() => setAsking(true)}>{words.refer()}</Button>
      {asking && (
        <Dialog title={words.refer_title()} onClose={close}>
          <OfWhichVisit
            personId={personId}
            onReferred={() => {
              close();
              onReferred();
            }}
            onCancel={close}
          />
        </Dialog>
      )}
    </>
  );
}

/** A referral comes out of a visit: without one there is nothing to send on from. */
function OfWhichVisit({ personId, ...rest }: Props & { onCancel: () => void }) {
  const visits = useVisits(personId);
  if (!visits.data) {
    return visits.problem ? <ProblemNotice problem={visits.problem} onRetry={visits.reload} /> : <Loading />;
  }
  if (visits.data.length === 0) {
    return (
      <>
        <p>{words.refer_no_visit()}</p>
        <div class="row">
          <Button onClick={rest.onCancel}>{kit.close()}</Button>
        </div>
      </>
    );
  }
  return <ReferForm visits={visits.data} {...rest} />;
}

function ReferForm({
  visits,
  onReferred,
  onCancel,
}: Pick<Props, "onReferred"> & { visits: readonly Visit[]; onCancel: () => void }) {
  const [id] = useState(newId);
  const days = useDays().data ?? [];
  const only = visits.length === 1 ? visits[0]?.id : undefined;
  const form = useForm(
    { visit_id: only ?? "", reason: "" as Reason | "" },
    {
      check: typed => missing(typed, "visit_id", "reason"),
      save: async ({ visit_id, reason }) => {
        if (!reason) return;
        const body = { id, visit_id, reason, happened_at: nowText() };
        await need(api.POST("/api/v1/referrals", { body }));
        announce(words.referred());
        onReferred();
      },
    },
  );
  const nameOf = (visit: Visit) =>
    [
      shortDay(visit.happened_at),
      days.find(day => day.id === visit.day_id)?.place,
      words[`step_${visit.step}`](),
    ]
      .filter(Boolean)
      .join(" · ");
  return (
    <FormBody form={form} submit={words.refer()} onCancel={onCancel}>
      <p>{words.refer_more()}</p>
      <SelectField
        label={words.refer_visit()}
        options={visits.map(visit => ({ value: visit.id, label: nameOf(visit) }))}
        {...form.field("visit_id")}
      />
      <SelectField
        label={words.why()}
        options={REASONS.map(value => ({ value, label: words[`referral_${value}`]() }))}
        {...form.field("reason")}
      />
    </FormBody>
  );
}
