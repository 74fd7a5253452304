/** What stands on the lines of a text, without empty ones. */
export const lines = (text: string): string[] =>
  text
    .split("\n")
    .map(one => one.trim())
    .filter(one => one !== "");
