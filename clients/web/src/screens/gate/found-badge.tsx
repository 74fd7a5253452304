import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { gate as words } from "../../words/gate";
import { FindForm } from "../badges/find-form";
import type { Gate } from "./gate";

interface Props {
  gate: Gate;
  /** What was read meanwhile; null while nobody hands in a badge. */
  read: string | null;
  onRead: (read: string | null) => void;
}

/**
 * Somebody hands in a badge. While the form stands there, what is read belongs to it: a badge that was found goes through
 * no door, and would be counted as if it did.
 */
export function FoundBadge({ gate, read, onRead }: Props) {
  return (
    <>
      <Button size="large" wide onClick={() => onRead("")}>
        {words.found()}
      </Button>
      {read !== null && (
        <Dialog title={words.found()} onClose={() => onRead(null)}>
          <FindForm
            read={read}
            keep={find => gate.keepFind(find)}
            kept={words.found_kept()}
            onCancel={() => onRead(null)}
          />
        </Dialog>
      )}
    </>
  );
}
