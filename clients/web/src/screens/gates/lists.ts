// The lists of the gates that several screens read, each under one key.
import { all, api, need } from "../../api/client";
import { useResource } from "../../app/use-resource";

export const readGates = () =>
  all(cursor => api.GET("/api/v1/gates", { params: { query: { cursor, limit: 500 } } }));

export const useGates = () => useResource("gates", readGates, { nouns: ["gates"] });

export const readPolicies = (gate_id: string) =>
  all(cursor =>
    api.GET("/api/v1/gates/{gate_id}/policies", {
      params: { path: { gate_id }, query: { cursor, limit: 500 } },
    }),
  );

// What is in force follows from the clock.
export const usePolicies = (gate_id: string) =>
  useResource(`policies of ${gate_id}`, () => readPolicies(gate_id), {
    nouns: ["gate_policies"],
    everyMs: 60_000,
  });

export const useWalkingTimes = () =>
  useResource("walking times", async () => (await need(api.GET("/api/v1/walking_times"))).items, {
    nouns: ["walking_times"],
  });
