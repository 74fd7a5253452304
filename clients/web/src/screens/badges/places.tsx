import { useId } from "preact/hooks";
import { badges as words } from "../../words/badges";

/** Cards on a sheet: five rows of two. */
const PLACES = 10;

/** A half-used sheet: the first free place, where it lies on the paper. Counted along the rows. */
export function Places({ first, onFirst }: { first: number; onFirst: (place: number) => void }) {
  const name = useId();
  return (
    <fieldset class="field">
      <legend class="field-label">{words.first_place()}</legend>
      <div class="badges-places choice">
        {Array.from({ length: PLACES }, (_, place) => (
          <label key={place} class={`choice-option${place < first ? " badges-used" : ""}`}>
            <input
              type="radio"
              name={name}
              value={place}
              checked={place === first}
              onChange={() => onFirst(place)}
              aria-label={words.place({ n: place + 1 })}
            />
            <span aria-hidden="true">{place + 1}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}
