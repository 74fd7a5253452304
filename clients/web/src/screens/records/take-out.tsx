import { useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import { useAction } from "../../app/use-action";
import { faultAt } from "../../app/use-form";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextArea } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { kit } from "../../words/kit";

interface Props {
  attemptId: string;
  title: string;
  /** The question that the reason answers. */
  label: string;
  hint: string;
  /** What stays true after it. */
  stays: string;
  confirm: string;
  /** Said where no reason is given. */
  needed: string;
  onClose: () => void;
  onDone: () => void;
}

/** Takes an attempt out of every later judgement, with a reason under the name of whoever is signed in. */
export function TakeOut({ attemptId, title, label, hint, stays, confirm, needed, onClose, onDone }: Props) {
  const [id] = useState(newId);
  const [reason, setReason] = useState("");
  const [tried, setTried] = useState(false);
  const save = useAction(async () => {
    const body = { id, reason: reason.trim(), happened_at: nowText() };
    const params = { path: { attempt_id: attemptId } };
    await need(api.POST("/api/v1/attempts/{attempt_id}/corrections", { params, body }));
    onDone();
  });
  const fault = faultAt(save.problem, "reason");
  return (
    <Dialog title={title} onClose={onClose}>
      <form
        class="stack"
        noValidate
        onSubmit={event => {
          event.preventDefault();
          setTried(true);
          if (reason.trim() !== "") void save.run();
        }}
      >
        <TextArea
          label={label}
          hint={hint}
          value={reason}
          onValue={setReason}
          maxLength={500}
          problem={tried && reason.trim() === "" ? needed : fault}
        />
        <p class="soft">{stays}</p>
        <ProblemNotice problem={save.problem} />
        <div class="row">
          <Button type="submit" kind="main" busy={save.busy}>
            {confirm}
          </Button>
          <Button onClick={onClose}>{kit.cancel()}</Button>
        </div>
      </form>
    </Dialog>
  );
}
