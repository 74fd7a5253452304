// Figures of the built screens, as JSON: sizes, and how long a camera's picture takes until the answer stands there, on
// the real program with two printed badges that are held before the camera in turn. Usage: npm run bench [-- TIMES]
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const scratch = mkdtempSync(join(tmpdir(), "sellion-bench-"));
const out = join(scratch, "figures.json");
const times = process.argv[2] ?? "100";
const ran = spawnSync("npx", ["vitest", "run", "--project", "bench"], {
  env: { ...process.env, SELLION_BENCH_OUT: out, SELLION_BENCH_TIMES: times },
  stdio: ["ignore", "ignore", "inherit"],
});
if (ran.status !== 0) {
  console.error("the bench did not run to its end: npx vitest run --project bench says why");
  process.exit(1);
}
const sizes = JSON.parse(
  execFileSync("node", [new URL("./sizes.mjs", import.meta.url).pathname], { encoding: "utf8" }),
);
console.log(JSON.stringify({ ...JSON.parse(readFileSync(out, "utf8")), bytes_compressed: sizes }, null, 2));
rmSync(scratch, { recursive: true });
