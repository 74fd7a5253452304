import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { PlaceChoice } from "../screens/place/place";
import { Loading } from "../kit/states";
import { choosePlace, day, onlyDayOfToday, station, stationsOf } from "./place";
import { may } from "./session";
import { useResource } from "./use-resource";

/** Shows a screen once it is known at which day, or which station, this device works; asks for it before. */
export function AtPlace({
  at,
  children,
}: {
  at: "day" | "station" | undefined;
  children: ComponentChildren;
}) {
  const [looked, setLooked] = useState(!at || day.value !== null);
  useEffect(() => {
    if (looked) return;
    // The only day of today is no choice.
    onlyDayOfToday()
      .then(only => only && choosePlace(only, null))
      .catch(() => undefined)
      .finally(() => setLooked(true));
  }, []);
  if (!at) return <>{children}</>;
  if (!looked) return <Loading />;
  if (!day.value || (at === "station" && !station.value))
    return <PlaceChoice needsStation={at === "station"} />;
  // Another place is another screen: nothing of the old one may stay.
  return (
    <div key={`${day.value.id} ${station.value?.id}`}>
      {station.value && may("list_stations") && <FreshStation dayId={day.value.id} />}
      {children}
    </div>
  );
}

/** Keeps what is remembered of the station as it is set up now: its name, what is done there, whether it is closed. */
function FreshStation({ dayId }: { dayId: string }) {
  const stations = useResource(`stations ${dayId}`, () => stationsOf(dayId), { nouns: ["stations"] });
  const now = stations.data?.find(one => one.id === station.value?.id);
  useEffect(() => {
    if (now && day.value?.id === dayId && now.version !== station.value?.version) choosePlace(day.value, now);
  }, [now]);
  return null;
}
