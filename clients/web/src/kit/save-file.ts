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

/** Shows a file in a window of its own, where it is looked at and printed; a browser that opens none saves it. */
export function openFile(file: Blob, name: string): void {
  const address = URL.createObjectURL(file);
  if (!window.open(address, "_blank")) saveFile(file, name);
  setTimeout(() => URL.revokeObjectURL(address), 600_000);
}
