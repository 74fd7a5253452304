import { useState } from "preact/hooks";
import { all, api, need, newId, type Wire } from "../../api/client";
import { station as here } from "../../app/place";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { CheckField, SelectField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Loaded } from "../../kit/states";
import { fill as words } from "../../words/fill";
import { kit } from "../../words/kit";
import { station } from "../../words/station";
import { nowText } from "./time";

type Bottle = Wire<"BottleView"> & { solution: "screening" | "test" };

/** What a nebulizer is filled from; stock solution is only made into others. */
const sprayed = (one: Wire<"BottleView">): one is Bottle => one.usable && one.solution !== "stock";

const readBottles = () => all(cursor => api.GET("/api/v1/bottles", { params: { query: { cursor } } }));

/** One filling: which bottle, into which nebulizer, how much. Made between tests. */
export function FillDialog({ onClose }: { onClose: () => void }) {
  const bottles = useResource("bottles", readBottles);
  return (
    <Dialog title={words.title()} onClose={onClose}>
      <Loaded resource={bottles}>
        {found => <Form bottles={found.filter(sprayed)} onClose={onClose} />}
      </Loaded>
    </Dialog>
  );
}

function Form({ bottles, onClose }: { bottles: Bottle[]; onClose: () => void }) {
  const [id] = useState(newId);
  const [scan, setScan] = useState("");
  const [bottle, setBottle] = useState("");
  const [nebulizer, setNebulizer] = useState("");
  const [volume, setVolume] = useState("");
  const [rinsed, setRinsed] = useState(false);
  const chosen = bottles.find(one => one.label.toLowerCase() === scan.trim().toLowerCase())?.id ?? bottle;
  const millilitres = Number(volume.replace(",", "."));
  const counts = millilitres > 0 && millilitres <= 1000;
  const save = useAction(async () => {
    const body = {
      id,
      station_id: here.value!.id,
      bottle_id: chosen,
      nebulizer,
      volume_ul: Math.round(millilitres * 1000),
      rinsed,
      happened_at: nowText(),
    };
    await need(api.POST("/api/v1/fills", { body }));
    onClose();
  });
  if (bottles.length === 0) return <p>{words.none()}</p>;
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        if (chosen && nebulizer && counts) void save.run();
      }}
    >
      <TextField
        label={words.scan()}
        value={scan}
        onValue={setScan}
        problem={scan !== "" && !chosen ? words.not_found() : undefined}
      />
      <SelectField
        label={words.bottle()}
        value={chosen}
        options={bottles.map(one => ({
          value: one.id,
          label: `${one.label}: ${station[`solution_${one.solution}`]()}, ${station[`agent_${one.agent}`]()}`,
        }))}
        onValue={value => {
          setScan("");
          setBottle(value);
        }}
      />
      <TextField
        label={words.nebulizer()}
        hint={words.nebulizer_hint()}
        value={nebulizer}
        onValue={setNebulizer}
      />
      <TextField
        label={words.volume()}
        inputMode="decimal"
        value={volume}
        onValue={setVolume}
        problem={volume !== "" && !counts ? words.volume_bad() : undefined}
      />
      <CheckField label={words.rinsed()} checked={rinsed} onValue={setRinsed} />
      <p class="small soft">{words.caution()}</p>
      <ProblemNotice problem={save.problem} />
      <div class="row">
        <Button type="submit" kind="main" busy={save.busy} disabled={!chosen || !nebulizer || !counts}>
          {words.save()}
        </Button>
        <Button onClick={onClose}>{kit.cancel()}</Button>
      </div>
    </form>
  );
}
