/** `B-09` three times is B-09, B-10, B-11: the last number counts on and keeps its zeros. */
export function labelsFrom(first: string, count: number): string[] {
  const [, head = "", digits] = /^(.*?)(\d+)$/.exec(first.trim()) ?? [];
  if (digits === undefined)
    return Array.from({ length: count }, (_, n) => (n === 0 ? first.trim() : `${first.trim()}-${n + 1}`));
  return Array.from(
    { length: count },
    (_, n) => head + String(Number(digits) + n).padStart(digits.length, "0"),
  );
}
