import { all, api } from "../../api/client";
import { useResource } from "../../app/use-resource";

/** The visits of one person, newest first. */
export const useVisits = (personId: string) =>
  useResource(
    `visits of ${personId}`,
    async () => {
      const query = { person_id: personId, limit: 500 };
      const found = await all(cursor =>
        api.GET("/api/v1/visits", { params: { query: { ...query, cursor } } }),
      );
      return found.toSorted((one, other) => other.happened_at.localeCompare(one.happened_at));
    },
    { nouns: ["visits", "visit_answers", "calls", "visit_returns", "attempts", "referrals"] },
  );
