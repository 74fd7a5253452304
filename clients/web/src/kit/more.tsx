import { kit } from "../words/kit";
import { Button } from "./button";

interface Props {
  /** Whether there is more than what is shown. */
  rest: boolean;
  busy: boolean;
  onMore: () => void;
}

/** The way to the next page of a long list. */
export function More({ rest, busy, onMore }: Props) {
  if (!rest) return null;
  return (
    <div class="row">
      <Button busy={busy} onClick={onMore}>
        {kit.more()}
      </Button>
    </div>
  );
}
