// Reads QR codes out of PNG files with the reader that the screens use, and prints one line of JSON for each file.
// Usage: node read_codes.mjs FOLDER_WITH_NODE_MODULES < LIST_OF_FILES
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { pathToFileURL } from "node:url";

const require = createRequire(path.join(path.resolve(process.argv[2]), "package.json"));
const reader = require.resolve("zxing-wasm/reader");
const { prepareZXingModule, readBarcodes } = await import(pathToFileURL(reader).href);
const wasmBinary = readFileSync(require.resolve("zxing-wasm/reader/zxing_reader.wasm"));
await prepareZXingModule({ overrides: { wasmBinary }, fireImmediately: true });

for (const file of readFileSync(0, "utf8").split("\n").filter(Boolean)) {
    const found = await readBarcodes(new Uint8Array(readFileSync(file)), { formats: ["QRCode"], tryHarder: true });
    console.log(JSON.stringify(found.map((code) => code.text)));
}
