// The columns of a pack: values by the place of a badge, as bytes in base64url, undone when first asked for.
import { decode } from "../badge/base64url";

/** Genuine, and yet not what a pack holds: it comes from another version of the program. */
export class PackUnreadable extends Error {
  override readonly name = "PackUnreadable";
}

/** A column that is undone once. */
export type Column = () => Promise<Uint8Array>;

export const plain = (text: string, length: number): Column =>
  once(() => Promise.resolve(whole(decode(text), length)));

/** A deflated column (RFC 1950). Never inflates to more than is expected, however false it is. */
export const deflated = (text: string, length: number): Column =>
  once(async () => {
    const packed = decode(text);
    if (!packed) throw new PackUnreadable("a column");
    const bytes = new Uint8Array(length);
    let filled = 0;
    const inflating = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    for await (const part of parts(inflating.getReader())) {
      if (filled + part.length > length) throw new PackUnreadable("a column that is too long");
      bytes.set(part, filled);
      filled += part.length;
    }
    return whole(filled === length ? bytes : null, length);
  });

/** Not every browser goes through a stream with `for await`. */
async function* parts(reader: ReadableStreamDefaultReader<Uint8Array>): AsyncGenerator<Uint8Array> {
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      yield value;
    }
  } finally {
    void reader.cancel().catch(() => undefined);
  }
}

function once(undo: () => Promise<Uint8Array>): Column {
  let undone: Promise<Uint8Array> | undefined;
  return () => (undone ??= undo());
}

function whole(bytes: Uint8Array | null, length: number): Uint8Array {
  if (bytes?.length !== length) throw new PackUnreadable("a column");
  return bytes;
}

/** A whole number in `width` bytes, high first, at a place. */
export function numberAt(bytes: Uint8Array, place: number, width: number): number {
  let number = 0;
  for (let at = place * width; at < (place + 1) * width; at++) number = number * 256 + (bytes[at] ?? 0);
  return number;
}
