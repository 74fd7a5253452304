import { all, api } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { inForce } from "./mapping";

/** The mappings of the site that count. */
export const useMappings = () =>
  useResource(
    "reading mappings",
    async () =>
      inForce(
        await all(cursor =>
          api.GET("/api/v1/reading_mappings", { params: { query: { cursor, limit: 500 } } }),
        ),
      ),
    { nouns: ["reading_mappings"] },
  );
