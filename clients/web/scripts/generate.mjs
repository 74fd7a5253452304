// Writes what the screens know of the API from the committed document: its types, and who may call what.
// With --check it writes nothing and fails when a file is out of step.
import { readFileSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import openapiTS, { astToString } from "openapi-typescript";

const here = path => fileURLToPath(new URL(path, import.meta.url));
const documentUrl = new URL("../../../api-spec/openapi.json", import.meta.url);
const head =
  "// Generated from api-spec/openapi.json by `npm run generate`: change the server, not this file.\n\n";

function operationsOf(document) {
  const methods = ["get", "post", "patch", "put", "delete"];
  const operations = Object.values(document.paths).flatMap(item =>
    methods.flatMap(method => item[method] ?? []),
  );
  return operations
    .filter(operation => operation["x-sellion"]?.roles)
    .map(operation => [operation.operationId, operation["x-sellion"]?.roles])
    .sort(([one], [other]) => (one < other ? -1 : 1));
}

function matrixOf(document) {
  const rows = operationsOf(document).map(([id, roles]) => `  ${id}: ${JSON.stringify(roles)},\n`);
  return `${head}/** Each operation with the roles that may call it. */\nexport const OPERATIONS = {\n${rows.join("")}} as const;\n`;
}

const document = JSON.parse(readFileSync(documentUrl, "utf8"));
const files = {
  "../src/api/schema.d.ts": head + astToString(await openapiTS(document)),
  "../src/api/operations.ts": matrixOf(document),
};
const check = process.argv.includes("--check");
for (const [path, text] of Object.entries(files)) {
  const file = here(path);
  if (!check) {
    writeFileSync(file, text);
  } else if (readFileSync(file, "utf8") !== text) {
    console.error(`${file} is not what api-spec/openapi.json makes of it: npm run generate`);
    process.exitCode = 1;
  }
}
