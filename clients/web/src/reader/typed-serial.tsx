import { useState } from "preact/hooks";
import { PREFIX } from "../badge/code";
import { lineOf, type Read } from "../badge/read";
import { readSerial } from "../badge/serial";
import { Button } from "../kit/button";
import { TextField } from "../kit/field";
import { reader as words } from "../words/reader";
import "./typed-serial.css";

interface Props {
  /** What the button says. */
  action: string;
  busy?: boolean;
  onRead: (read: Read) => void;
}

/** What is wrong with a typed serial; nothing where it is one, or the text of a code that a scanner typed. */
export function serialFault(text: string): string | undefined {
  const read = readSerial(text);
  return "problem" in read && !text.trim().startsWith(PREFIX) ? words[read.problem]() : undefined;
}

/** A serial typed by hand, held against its check character before anybody is asked. A scanner may type here as well. */
export function TypedSerial({ action, busy, onRead }: Props) {
  const [text, setText] = useState("");
  const [problem, setProblem] = useState<string | undefined>();
  const submit = (event: Event) => {
    event.preventDefault();
    const fault = serialFault(text);
    if (fault) return setProblem(fault);
    setText("");
    setProblem(undefined);
    onRead(lineOf(text));
  };
  return (
    <form class="typed-serial" onSubmit={submit}>
      <TextField
        label={words.serial()}
        hint={words.hint()}
        value={text}
        problem={problem}
        onValue={next => {
          setText(next);
          setProblem(undefined);
        }}
        autocomplete="off"
        large
        maxLength={800}
      />
      <Button type="submit" size="large" busy={busy}>
        {action}
      </Button>
    </form>
  );
}
