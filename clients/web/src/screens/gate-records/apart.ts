export interface Apart<Item> {
  /** Only in the first list. */
  first: Item[];
  /** Only in the second. */
  second: Item[];
  both: Item[];
}

/** What two lists have in common, and what each has alone; what is in both is shown as the second has it. */
export function apart<Item>(
  first: readonly Item[],
  second: readonly Item[],
  keyOf: (item: Item) => string,
): Apart<Item> {
  const [inFirst, inSecond] = [new Set(first.map(keyOf)), new Set(second.map(keyOf))];
  return {
    first: first.filter(one => !inSecond.has(keyOf(one))),
    second: second.filter(one => !inFirst.has(keyOf(one))),
    both: second.filter(one => inFirst.has(keyOf(one))),
  };
}
