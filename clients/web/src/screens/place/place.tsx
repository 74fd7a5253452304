import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import {
  choosePlace,
  day,
  type Day,
  isOpen,
  openDays,
  station,
  type Station,
  stationsOf,
} from "../../app/place";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { clock, dateAtSite, list, shortDay } from "../../words/format";
import { placeWords as words } from "../../words/place";

/** Which day and which station this device works at. */
export default function PlaceScreen() {
  return <PlaceChoice needsStation={false} />;
}

/** The same in place of a screen that cannot do without. */
export function PlaceChoice({ needsStation }: { needsStation: boolean }) {
  const days = useResource("days", openDays, { nouns: ["days"] });
  const [chosen, setChosen] = useState<Day | null>(day.value);
  return (
    <Page title={words.title()} narrow>
      <Loaded resource={days}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.no_days()}>
              <p>{words.no_days_todo()}</p>
            </Empty>
          ) : (
            <>
              <Panel title={words.day()}>
                <ul class="rows">
                  {found.map(one => (
                    <li key={one.id}>
                      <DayRow day={one} chosen={one.id === chosen?.id} onChoose={() => setChosen(one)} />
                    </li>
                  ))}
                </ul>
              </Panel>
              {chosen && <Stations day={chosen} needsStation={needsStation} />}
            </>
          )
        }
      </Loaded>
    </Page>
  );
}

function DayRow({ day, chosen, onChoose }: { day: Day; chosen: boolean; onChoose: () => void }) {
  const today = dateAtSite(day.opens_at) === dateAtSite();
  return (
    <button type="button" class="row-link" aria-pressed={chosen} onClick={onChoose}>
      <span>
        <span class="strong">{day.place}</span>
        <br />
        <span class="soft">
          {shortDay(day.opens_at)}, {words.hours({ from: clock(day.opens_at), until: clock(day.closes_at) })}
        </span>
      </span>
      {today && <Tag tone="go">{words.today()}</Tag>}
    </button>
  );
}

function Stations({ day, needsStation }: { day: Day; needsStation: boolean }) {
  const { route, path } = useLocation();
  const stations = useResource(`stations ${day.id}`, () => stationsOf(day.id), { nouns: ["stations"] });
  const choose = (next: Station | null) => {
    choosePlace(day, next);
    // Shown in place of a screen, that screen follows by itself.
    if (path.endsWith("/place")) route("/");
  };
  return (
    <Panel title={words.stations_of({ place: day.place })}>
      <Loaded resource={stations}>
        {found => (
          <ul class="rows">
            {!needsStation && (
              <li>
                <button type="button" class="row-link" onClick={() => choose(null)}>
                  <span class="strong">{words.no_station()}</span>
                </button>
              </li>
            )}
            {found.filter(isOpen).map(one => (
              <li key={one.id}>
                <button
                  type="button"
                  class="row-link"
                  aria-pressed={one.id === station.value?.id}
                  onClick={() => choose(one)}
                >
                  <span class="strong">{one.name}</span>
                  <span class="soft">{list(one.parts.map(part => words[`part_${part}`]()))}</span>
                </button>
              </li>
            ))}
            {!found.some(isOpen) && needsStation && <Empty title={words.no_stations()} />}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}
