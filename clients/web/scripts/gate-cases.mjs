// Writes what `gate-cases DIRECTORY` left (tests/src/bin/gate-cases.rs) into one file that the unit tests run through
// the gate screen's own function: packs as the server signed them, questions, and the answers of the server and of
// sellion-gate. Usage: node scripts/gate-cases.mjs DIRECTORY
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const folder = process.argv[2];
if (!folder) throw new Error("node scripts/gate-cases.mjs DIRECTORY");
const read = name => readFileSync(join(folder, name), "utf8").trim();
const json = name => JSON.parse(read(name));

const gates = readdirSync(folder)
  .filter(name => name.endsWith(".pack"))
  .map(name => name.slice(0, -".pack".length));
const asked = json("cases.json");
const texts = [...new Set(asked.map(one => one.text))];
const lines = list => `[\n${list.map(one => `    ${JSON.stringify(one)}`).join(",\n")}\n  ]`;
const members = {
  note: JSON.stringify(
    "Packs of six gates, and questions with the answers of the server and of sellion-gate: [gate, at, text, server, alone]. Recorded by tests/src/bin/gate-cases.rs and clients/web/scripts/gate-cases.mjs. The keys are published and worth nothing.",
  ),
  jwks: JSON.stringify(json("jwks.json")),
  packs: lines(gates.map(gate => ({ gate, pack: read(`${gate}.pack`), current: read(`${gate}.current`) }))),
  texts: lines(texts),
  cases: lines(
    asked.map(one => [
      gates.indexOf(one.gate),
      one.at,
      texts.indexOf(one.text),
      one.server,
      one.sellion_gate,
    ]),
  ),
};
const body = Object.entries(members).map(([name, value]) => `  "${name}": ${value}`);
writeFileSync(
  new URL("../../../api-spec/test-vectors/gate-packs.json", import.meta.url),
  `{\n${body.join(",\n")}\n}\n`,
);
