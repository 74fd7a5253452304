import type { ComponentChildren } from "preact";
import type { Resource } from "../app/use-resource";
import { useNow } from "../app/use-now";
import { span } from "../words/format";
import { kit } from "../words/kit";
import { Notice, ProblemNotice } from "./notice";

export function Loading() {
  return (
    <div class="state" role="status">
      <div class="loading-bar" aria-hidden="true" />
      <p>{kit.loading()}</p>
    </div>
  );
}

/** There is nothing, why that is, and what to do about it. */
export function Empty({ title, children }: { title: string; children?: ComponentChildren }) {
  return (
    <div class="state">
      <p class="strong">{title}</p>
      {children}
    </div>
  );
}

interface LoadedProps<Data> {
  resource: Resource<Data>;
  children: (data: Data) => ComponentChildren;
}

/** A resource in each of its states. What was read last stays while it cannot be read again, with its age. */
export function Loaded<Data>({ resource, children }: LoadedProps<Data>) {
  const { data, problem, readAt, reload } = resource;
  if (data === undefined) {
    return problem ? <ProblemNotice problem={problem} onRetry={reload} /> : <Loading />;
  }
  return (
    <>
      {problem && readAt !== undefined && <Stale readAt={readAt} />}
      {children(data)}
    </>
  );
}

function Stale({ readAt }: { readAt: number }) {
  const now = useNow(10_000);
  return <Notice tone="wait" title={kit.as_of({ span: span(now - readAt) })} />;
}
