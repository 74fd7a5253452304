/** Volumes are typed in millilitres and stored in whole microlitres; undefined for what is no volume. */
export function microlitres(text: string): number | undefined {
  const value = Number(text.trim().replace(",", "."));
  return text.trim() === "" || !Number.isFinite(value) || value < 0 ? undefined : Math.round(value * 1000);
}
