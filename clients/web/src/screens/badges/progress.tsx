import type { Wire } from "../../api/client";
import { Tag } from "../../kit/answer";
import { badges as words } from "../../words/badges";

/** How far a batch has come, in numbers. */
export function Progress({ batch }: { batch: Wire<"BadgeBatchView"> }) {
  const { state, made, left_out, people } = batch;
  return (
    <span class="row">
      {state === "running" ? (
        <Tag tone="wait">{words.batch_running({ made: made + left_out, people })}</Tag>
      ) : (
        <Tag tone="go">{words.batch_done({ n: made })}</Tag>
      )}
      {left_out > 0 && <Tag tone="stop">{words.batch_left_out({ n: left_out })}</Tag>}
    </span>
  );
}
