import { all, api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Facts, Panel } from "../../kit/page";
import { attempt as words } from "../../words/attempt";
import { dayAndClock } from "../../words/format";
import { station } from "../../words/station";
import { useEquipment, useLots } from "../stores/lists";
import type { Attempt } from "./attempt";

type Fill = Wire<"FillView">;

/** What was used: the fills with their bottles and lots, the hood, the facepiece; and the screening it stands on. */
export function Used({ attempt }: { attempt: Attempt }) {
  const screening = useResource(attempt.screening_id ? `screening ${attempt.screening_id}` : null, () =>
    need(
      api.GET("/api/v1/screenings/{screening_id}", {
        params: { path: { screening_id: attempt.screening_id ?? "" } },
      }),
    ),
  );
  const lots = useLots().data ?? [];
  const equipment = useEquipment().data ?? [];
  const lotNumber = (id: string | null | undefined) => lots.find(one => one.id === id)?.lot_number;
  const verdict = screening.data?.state.verdict;
  return (
    <>
      <Panel title={words.kit()}>
        {attempt.fill_id && (
          <FillFacts title={words.test_solution()} id={attempt.fill_id} stationId={attempt.station_id} />
        )}
        <Facts
          facts={[
            [words.hood(), equipment.find(one => one.id === attempt.hood_id)?.label ?? words.not_named()],
            [words.facepiece(), lotNumber(attempt.facepiece_lot_id) ?? words.not_named()],
          ]}
        />
      </Panel>
      <Panel title={words.screening()}>
        {!attempt.screening_id && <p class="soft">{words.screening_none()}</p>}
        {screening.data && (
          <>
            <Facts
              facts={[
                [words.screening_level(), verdict?.level],
                [words.screening_squeezes(), verdict?.squeezes],
                [words.event_time(), dayAndClock(screening.data.happened_at)],
                [words.ended(), verdict && dayAndClock(verdict.ended_at)],
              ]}
            />
            <p class="soft">{station[`agent_${screening.data.agent}`]()}</p>
            <FillFacts
              title={words.screening_solution()}
              id={screening.data.fill_id}
              stationId={screening.data.station_id}
            />
          </>
        )}
      </Panel>
    </>
  );
}

function FillFacts({ title, id, stationId }: { title: string; id: string; stationId: string }) {
  const fills = useResource(`fills ${stationId}`, () => fillsOf(stationId), { nouns: ["fills"] });
  const lots = useLots().data ?? [];
  if (!fills.data) return null;
  const fill = fills.data.find(one => one.id === id);
  if (!fill) return <p class="soft">{words.kit_fill_unseen()}</p>;
  const lot = lots.find(one => one.id === fill.lot_id);
  return (
    <>
      <h3>{title}</h3>
      <Facts
        facts={[
          [
            words.kit_lot(),
            lot && (may("list_balances") ? <LotLink id={lot.id} number={lot.lot_number} /> : lot.lot_number),
          ],
          [words.kit_bottle(), fill.bottle_label],
          [words.kit_nebulizer(), fill.nebulizer],
          [words.kit_filled(), dayAndClock(fill.happened_at)],
        ]}
      />
      {fill.afterwards && <p class="soft small">{words.kit_fill_late()}</p>}
      {may("read_look_back") && may("list_testers") && (
        <a href={to(`/look-back/fill/${fill.id}`)}>{words.look_back()}</a>
      )}
    </>
  );
}

function LotLink({ id, number }: { id: string; number: string }) {
  return <a href={to(`/stores/lots/${id}`)}>{number}</a>;
}

const fillsOf = (station_id: string): Promise<Fill[]> =>
  all(cursor =>
    api.GET("/api/v1/stations/{station_id}/fills", {
      params: { path: { station_id }, query: { cursor, limit: 500 } },
    }),
  );
