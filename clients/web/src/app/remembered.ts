/** A small choice kept in this browser. Where nothing may be kept (private windows), it holds until the page closes. */
export function remembered<Value>(name: string, otherwise: Value) {
  const key = `sellion.${name}`;
  let value: Value = otherwise;
  try {
    const text = localStorage.getItem(key);
    if (text !== null) value = JSON.parse(text) as Value;
  } catch {
    // What cannot be read is as good as never chosen.
  }
  return {
    get: (): Value => value,
    set(next: Value): void {
      value = next;
      try {
        localStorage.setItem(key, JSON.stringify(next));
      } catch {
        // Kept in memory only.
      }
    },
  };
}
