// The lists of the stores that several screens read, each under one key.
import { all, api } from "../../api/client";
import { useResource } from "../../app/use-resource";

export const useLots = () =>
  useResource(
    "lots",
    () => all(cursor => api.GET("/api/v1/lots", { params: { query: { cursor, limit: 500 } } })),
    {
      nouns: ["lots", "lot_stops"],
    },
  );

export const useRespirators = () =>
  useResource(
    "respirators",
    () => all(cursor => api.GET("/api/v1/respirators", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["respirators"] },
  );

export const usePlaces = () =>
  useResource(
    "places",
    () => all(cursor => api.GET("/api/v1/places", { params: { query: { cursor, limit: 500 } } })),
    {
      nouns: ["places"],
    },
  );

export const useEquipment = () =>
  useResource(
    "equipment",
    () => all(cursor => api.GET("/api/v1/equipment", { params: { query: { cursor, limit: 500 } } })),
    // Hoods dry by the clock.
    { nouns: ["equipment", "equipment_checks", "placements", "attempts", "screenings"], everyMs: 60_000 },
  );

export const useTesters = () =>
  useResource(
    "testers",
    () => all(cursor => api.GET("/api/v1/testers", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["users"] },
  );

export const useBottles = () =>
  useResource(
    "all bottles",
    () => all(cursor => api.GET("/api/v1/bottles", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["bottles", "bottle_openings", "placements"] },
  );
