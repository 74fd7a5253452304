// A recording of a measured attempt: kept byte for byte, and compared by its fingerprint both ways.
import { api, need, type Wire } from "../../api/client";
import { reachTelling } from "../../api/reach";

export type Recording = Wire<"RecordingView">;

/** The server's limit. */
export const BYTES_MAX = 5 * 1024 * 1024;

/** The SHA-256 of a file in hexadecimal; nothing where the connection gives the browser no cryptography. */
export async function fingerprint(file: Blob): Promise<string | null> {
  // The type knows no browser without it; on an unencrypted connection it is not there.
  const subtle = crypto.subtle as SubtleCrypto | undefined;
  if (!subtle) return null;
  const digest = new Uint8Array(await subtle.digest("SHA-256", await file.arrayBuffer()));
  return Array.from(digest, byte => byte.toString(16).padStart(2, "0")).join("");
}

/** "840 KiB", "3.2 MiB": as the limit is told. */
export function size(bytes: number): string {
  const [value, unit] = bytes < 1024 * 1024 ? [bytes / 1024, "KiB"] : [bytes / (1024 * 1024), "MiB"];
  return `${value < 10 ? Math.ceil(value * 10) / 10 : Math.ceil(value)} ${unit}`;
}

interface Keeping {
  attempt_id: string;
  id: string;
  file: File;
  happened_at: string;
  told: (share: number) => void;
}

export const keepRecording = ({ attempt_id, id, file, happened_at, told }: Keeping): Promise<Recording> =>
  need(
    api.POST("/api/v1/attempts/{attempt_id}/recordings", {
      params: { path: { attempt_id }, query: { id, name: file.name, happened_at } },
      body: file as unknown as number[],
      bodySerializer: (body: unknown) => body as Blob,
      headers: { "content-type": file.type || "application/octet-stream" },
      fetch: reachTelling(told),
    }),
  );

export async function readRecording(attempt_id: string, recording_id: string): Promise<Blob> {
  const path = { attempt_id, recording_id };
  const answer = await need(
    api.GET("/api/v1/attempts/{attempt_id}/recordings/{recording_id}", {
      params: { path },
      parseAs: "blob",
    }),
  );
  return answer as unknown as Blob;
}
