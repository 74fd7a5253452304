// A roster file on its way to the server, where it is decided what it means.
import { api, need, type Wire } from "../../api/client";

export type Preview = Wire<"RosterPreview">;
export type Taken = Wire<"RosterImportView">;

export const FIELDS = ["staff_number", "given_name", "family_name", "birth_date", "unit", "left_on"] as const;
export type Field = (typeof FIELDS)[number];
/** What a person said: of each fact, the header of its column. */
export type Told = Partial<Record<Field, string>>;

const asIs = { bodySerializer: (body: unknown) => body as Blob, headers: { "content-type": "text/csv" } };

export const preview = (file: Blob, told: Told): Promise<Preview> =>
  need(
    api.POST("/api/v1/roster_imports/previews", {
      params: { query: told },
      body: file as unknown as string,
      ...asIs,
    }),
  );

export const take = (file: Blob, told: Told, id: string): Promise<Taken> =>
  need(
    api.POST("/api/v1/roster_imports", {
      params: { query: { id, ...told } },
      body: file as unknown as string,
      ...asIs,
    }),
  );
