/** Whether what somebody looks for stands in what a row shows, in small letters or large ones. */
export const holds = (sought: string, ...shown: (string | null | undefined)[]): boolean =>
  shown.join(" ").toLowerCase().includes(sought.trim().toLowerCase());
