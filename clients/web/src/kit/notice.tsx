import type { ComponentChildren } from "preact";
import type { Problem } from "../api/problem";
import { kit } from "../words/kit";
import { explain } from "../words/problems";
import { Button } from "./button";
import { Shape, type Tone } from "./shape";

interface Props {
  tone: Tone;
  title?: string;
  children?: ComponentChildren;
  /** Said at once to those who listen: for what a person has to know now. */
  urgent?: boolean;
}

export function Notice({ tone, title, children, urgent }: Props) {
  return (
    <div class={`notice tone-${tone}`} role={urgent ? "alert" : undefined}>
      <Shape tone={tone} size={28} />
      <div class="notice-body">
        {title && <p class="strong">{title}</p>}
        {children}
      </div>
    </div>
  );
}

/** What went wrong and what to do about it, from the server's code. Shows nothing while nothing is wrong. */
export function ProblemNotice({ problem, onRetry }: { problem: Problem | undefined; onRetry?: () => void }) {
  if (!problem) return null;
  const { happened, todo } = explain(problem);
  return (
    <Notice tone={problem.passes ? "wait" : "stop"} title={happened} urgent>
      {todo && <p>{todo}</p>}
      {problem.code === "invalid_value" && (
        <p class="small soft" lang="en">
          {problem.detail}
        </p>
      )}
      {problem.code === "internal" && problem.requestId && (
        <p class="small number">{kit.request_id({ id: problem.requestId })}</p>
      )}
      {onRetry && (
        <div class="row">
          <Button onClick={onRetry}>{kit.try_again()}</Button>
        </div>
      )}
    </Notice>
  );
}
