// A file of readings on its way to the server, where it is decided what it means.
import { api, need, newId, type Wire } from "../../api/client";
import { likelyDelimiter, type Sheet, sheetOf } from "./sheet";
import type { Mapping } from "./mapping";

export type Preview = Wire<"ReadingFilePreview">;
type Attempt = Wire<"AttemptView">;

export interface Chosen {
  /** One file is one recording, however often it is sent. */
  id: string;
  name: string;
  /** As it was when it was chosen: the instrument may write on. */
  bytes: Blob;
  text: string;
}

/** What is said of a file beside its bytes. */
export interface Said {
  mapping_id: string;
  began_at: string;
  test?: string;
  peak_percent?: string;
  looked_again?: boolean;
}

export async function chosen(file: File): Promise<Chosen> {
  const bytes = new Blob([await file.arrayBuffer()], { type: "text/csv" });
  return { id: newId(), name: file.name, bytes, text: await bytes.text() };
}

/** The cells of a file as a mapping has it read. */
export function sheetBy({ delimiter, header_line = 1 }: Mapping, text: string): Sheet {
  const told = delimiter === undefined || delimiter === "from_file" ? likelyDelimiter(text) : delimiter;
  return sheetOf(text, told, header_line);
}

const asIs = { bodySerializer: (body: unknown) => body as Blob, headers: { "content-type": "text/csv" } };

export const preview = (attempt_id: string, { id, bytes }: Chosen, said: Said): Promise<Preview> =>
  need(
    api.POST("/api/v1/attempts/{attempt_id}/reading_files/previews", {
      params: { path: { attempt_id }, query: { id, ...said } },
      body: bytes as unknown as string,
      ...asIs,
    }),
  );

export const take = (attempt_id: string, { id, bytes }: Chosen, said: Said): Promise<Attempt> =>
  need(
    api.POST("/api/v1/attempts/{attempt_id}/reading_files", {
      params: { path: { attempt_id }, query: { id, ...said } },
      body: bytes as unknown as string,
      ...asIs,
    }),
  );
