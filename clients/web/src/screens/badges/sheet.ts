import { api, need } from "../../api/client";
import type { Settings } from "./print-form";

/** The sheet of one badge, by itself. */
export async function sheetOf(id: string, { layout, first_place, printer }: Settings): Promise<Blob> {
  const body = { layout, first_place, printer, badge_ids: [id] };
  return (await need(api.POST("/api/v1/badge_sheets", { body, parseAs: "blob" }))) as unknown as Blob;
}
