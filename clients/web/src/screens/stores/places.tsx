import "./stores.css";
import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { CheckField, TextField } from "../../kit/field";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { stores as words } from "../../words/stores";
import { MovementForm } from "./movement-form";
import { usePlaces } from "./lists";
import { placeKind } from "./names";

/** What is where? Storerooms first, then stations, the newest day's first. */
export default function Places() {
  const places = usePlaces();
  const [name, setName] = useState("");
  const [fills, setFills] = useState(false);
  return (
    <Page title={words.places_title()}>
      <Panel>
        <Loaded resource={places}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.places_none()} />
            ) : (
              <ul class="rows">
                {[...rows]
                  .sort(
                    (one, other) =>
                      Number(Boolean(one.station_id)) - Number(Boolean(other.station_id)) ||
                      other.created_at.localeCompare(one.created_at),
                  )
                  .map(one => (
                    <li key={one.id}>
                      <a class="row-link" href={to(`/stores/places/${one.id}`)}>
                        <span class="strong">{one.name}</span>
                        <span class="soft">{placeKind(one)}</span>
                      </a>
                    </li>
                  ))}
              </ul>
            )
          }
        </Loaded>
      </Panel>
      {may("create_place") && (
        <Panel title={words.place_new()}>
          <MovementForm
            action={words.add()}
            ready={name.trim() !== ""}
            onSave={id =>
              need(api.POST("/api/v1/places", { body: { id, name: name.trim(), filling_point: fills } }))
            }
            onSaved={() => {
              setName("");
              places.reload();
            }}
          >
            <TextField label={words.place_name()} value={name} onValue={setName} maxLength={100} />
            <CheckField label={words.filling_point_check()} checked={fills} onValue={setFills} />
          </MovementForm>
        </Panel>
      )}
    </Page>
  );
}
