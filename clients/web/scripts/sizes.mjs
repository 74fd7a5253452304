// How large the parts of the built screens are, compressed as they are sent, and what the first load of the gate screen
// comes to: everything that a browser fetches before the screen is there, without the reader of codes, which comes when a
// camera is switched on. Prints JSON; with --check one line, and it fails above the limit.
import { existsSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";

const dist = new URL("../dist/", import.meta.url).pathname;
const GATE = "src/screens/gate/gate-screen.tsx";
const GATE_MAX = 150_000;

const parts = JSON.parse(readFileSync(join(dist, "parts.json"), "utf8"));
const sent = file => {
  const small = join(dist, `${file}.br`);
  return statSync(existsSync(small) ? small : join(dist, file)).size;
};

/** A part and everything that it cannot begin without. */
function needed(name, found = new Set()) {
  const part = parts[name];
  if (!part || found.has(name)) return found;
  found.add(name);
  for (const other of part.imports ?? []) needed(other, found);
  return found;
}

function files(names) {
  return [...new Set([...names].flatMap(name => [parts[name].file, ...(parts[name].css ?? [])]))];
}

// The letters of English and Spanish; those of other names are fetched when such a name is shown.
const font = Object.values(parts)
  .map(part => part.file)
  .concat(Object.values(parts).flatMap(part => part.assets ?? []))
  .find(file => /latin-wght-normal.*\.woff2$/.test(file));
const gate = ["index.html", ...files(new Set([...needed("index.html"), ...needed(GATE)])), font];
const gateFirstLoad = gate.reduce((sum, file) => sum + sent(file), 0);
const reader = Object.values(parts).filter(part => /ponyfill|zxing_reader/.test(part.file));
const sizes = {
  gate_first_load: gateFirstLoad,
  gate_first_load_max: GATE_MAX,
  gate_first_load_parts: Object.fromEntries(gate.map(file => [file, sent(file)])),
  reader_of_codes: reader.reduce((sum, part) => sum + sent(part.file), 0),
  screens: Object.fromEntries(
    Object.entries(parts)
      .filter(([name, part]) => part.isDynamicEntry && name.startsWith("src/screens/"))
      .map(([name, part]) => [name.slice("src/screens/".length), sent(part.file)]),
  ),
};
if (process.argv.includes("--check")) {
  console.log(`the gate screen's first load: ${gateFirstLoad} bytes of ${GATE_MAX} at most`);
  if (gateFirstLoad > GATE_MAX) process.exitCode = 1;
} else {
  console.log(JSON.stringify(sizes, null, 2));
}
