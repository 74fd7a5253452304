/** Hands a file to the person, as the browser does with anything that is downloaded. */
export function saveFile(file: Blob, name: string): void {
  const address = URL.createObjectURL(file);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  // The download has begun by then; the browser keeps what it still needs.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
