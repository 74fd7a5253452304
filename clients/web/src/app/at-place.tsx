import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { PlaceChoice } from "../screens/place/place";
import { Loading } from "../kit/states";
import { choosePlace, day, onlyDayOfToday, station } from "./place";

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
  return <div key={`${day.value.id} ${station.value?.id}`}>{children}</div>;
}
