import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { announce } from "../../kit/announce";
import { Tag } from "../../kit/answer";
import { TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Empty, Loaded } from "../../kit/states";
import { peopleWords as words } from "../../words/people";
import { apart, byNumber, fullName, type Person, search, sharedNames, SHOWN_MAX } from "./person";

/** A pause in typing after which the server is asked. */
const PAUSE_MS = 250;

interface Props {
  onFound: (person: Person) => void;
  /** What stands beside a person in the list. */
  beside?: (person: Person) => ComponentChildren;
  /** What is offered when nobody is found. */
  otherwise?: ComponentChildren;
}

/**
 * Finds one person by a scanned or typed number, or by a name. A whole number is somebody; anything else is a list to
 * choose from: Enter never takes the first of it.
 */
export function FindPerson({ onFound, beside, otherwise }: Props) {
  const [text, setText] = useState("");
  const [asked, setAsked] = useState("");
  const box = useRef<HTMLInputElement | null>(null);
  const scan = useAction(async (number: string) => {
    const person = await byNumber(number);
    if (person) return onFound(person);
    setAsked(number);
    announce(words.none_number({ number }));
  });
  useEffect(() => box.current?.focus(), []);
  useEffect(() => {
    const timer = setTimeout(() => setAsked(text.trim()), PAUSE_MS);
    return () => clearTimeout(timer);
  }, [text]);

  const found = useResource(asked.length < 2 ? null : `people ${asked}`, () => search(asked), {
    nouns: ["people"],
  });
  return (
    <div class="stack">
      <TextField
        label={words.search()}
        hint={words.search_hint()}
        type="search"
        value={text}
        onValue={setText}
        autocomplete="off"
        large
        inputRef={element => (box.current = element)}
        onKeyDown={event => {
          if (event.key !== "Enter" || text.trim() === "") return;
          event.preventDefault();
          void scan.run(text.trim());
        }}
      />
      <ProblemNotice problem={scan.problem} />
      {asked.length >= 2 && (
        <Loaded resource={found}>
          {people =>
            people.length === 0 ? (
              <Empty title={words.none()}>{otherwise}</Empty>
            ) : (
              <Results people={people} onFound={onFound} beside={beside} />
            )
          }
        </Loaded>
      )}
      {asked.length < 2 && otherwise}
    </div>
  );
}

function Results({ people, onFound, beside }: { people: Person[] } & Pick<Props, "onFound" | "beside">) {
  const shared = sharedNames(people);
  const count =
    people.length > SHOWN_MAX ? words.found_more({ n: SHOWN_MAX }) : words.found({ n: people.length });
  useEffect(() => announce(count), [count]);
  return (
    <>
      <p class="soft small">{count}</p>
      <ul class="rows" aria-label={words.results()}>
        {people.slice(0, SHOWN_MAX).map(person => (
          <li key={person.id}>
            <button type="button" class="row-link" onClick={() => onFound(person)}>
              <span>
                <span class="strong">{fullName(person)}</span>
                <br />
                <span class="soft number">{apart(person)}</span>
              </span>
              <span class="row">
                {shared.has(fullName(person).toLocaleLowerCase()) && (
                  <Tag tone="unknown">{words.same_name()}</Tag>
                )}
                {beside?.(person)}
              </span>
            </button>
          </li>
        ))}
      </ul>
    </>
  );
}
