import { useState } from "preact/hooks";
import { api, need, nowText } from "../../api/client";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { dayAndClock, number } from "../../words/format";
import { equipmentWords } from "../../words/equipment";
import { MovementForm } from "./movement-form";

/** A number as people type it, with a comma or a point. */
const typed = (text: string) => (text.trim() === "" ? Number.NaN : Number(text.replace(",", ".")));

/** What a squeeze gives: the scale tells, and the forecast need not assume it any more. */
export function Weigh({ equipmentId }: { equipmentId: string }) {
  const params = { path: { equipment_id: equipmentId } };
  const kept = useResource(
    `weighings ${equipmentId}`,
    () => need(api.GET("/api/v1/equipment/{equipment_id}/weighings", { params })),
    { nouns: ["squeeze_weighings"] },
  );
  const [before, setBefore] = useState("");
  const [after, setAfter] = useState("");
  const [squeezes, setSqueezes] = useState("100");
  const [step, setStep] = useState("10");
  const ready = [before, after, squeezes, step].every(text => Number.isFinite(typed(text)));
  return (
    <Panel title={equipmentWords.weigh()}>
      <p class="soft">{equipmentWords.weigh_more()}</p>
      {may("create_squeeze_weighing") && (
        <MovementForm
          action={equipmentWords.record()}
          ready={ready}
          onSave={id =>
            need(
              api.POST("/api/v1/equipment/{equipment_id}/weighings", {
                params,
                body: {
                  id,
                  before_mg: Math.round(typed(before) * 1000),
                  after_mg: Math.round(typed(after) * 1000),
                  squeezes: typed(squeezes),
                  scale_step_mg: typed(step),
                  happened_at: nowText(),
                },
              }),
            )
          }
          onSaved={() => {
            setBefore("");
            setAfter("");
            kept.reload();
          }}
        >
          <TextField
            label={equipmentWords.before_g()}
            inputMode="decimal"
            value={before}
            onValue={setBefore}
          />
          <TextField label={equipmentWords.after_g()} inputMode="decimal" value={after} onValue={setAfter} />
          <TextField
            label={equipmentWords.squeezes()}
            inputMode="numeric"
            value={squeezes}
            onValue={setSqueezes}
          />
          <TextField label={equipmentWords.step_mg()} inputMode="numeric" value={step} onValue={setStep} />
        </MovementForm>
      )}
      <Loaded resource={kept}>
        {rows => (
          <ul class="rows">
            {[...rows].reverse().map(one => (
              <li key={one.id} class="row row-apart">
                <span>{dayAndClock(one.happened_at)}</span>
                <span class="number">
                  {equipmentWords.squeeze_gives({ amount: number(Math.round(one.squeeze_nl / 100) / 10) })}
                </span>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
    </Panel>
  );
}
