// The server's sentence for the guard, in the language of the one who reads. The server sends it in English and gives no
// reason away; a sentence that is not known here is shown as it came.
import { gateInstructions as words, SENTENCES } from "../../words/gate";
import type { Instruction } from "../../pack/answer";

const FALLBACK = " Written fallback of this gate: ";

export interface Said {
  /** Which of the known sentences it is. */
  instruction: Instruction | undefined;
  /** As it came, where it is none of them. */
  text: string;
  fallback: string | undefined;
  checkName: boolean;
}

/** What the server's sentence says. */
export function understood(sentence: string): Said {
  const checkName = sentence.startsWith(SENTENCES.check_name);
  const rest = checkName ? sentence.slice(SENTENCES.check_name.length).trimStart() : sentence;
  const at = rest.indexOf(FALLBACK);
  const [text, fallback] = at < 0 ? [rest, undefined] : [rest.slice(0, at), rest.slice(at + FALLBACK.length)];
  const known = Object.entries(SENTENCES).find(([, one]) => one === text)?.[0] as Instruction | undefined;
  return { instruction: known, text, fallback, checkName };
}

/** What to do, in the reader's language. */
export const saidText = ({ instruction, text }: Pick<Said, "instruction" | "text">): string =>
  instruction ? words[instruction]() : text;
