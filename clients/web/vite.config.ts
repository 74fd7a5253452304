import { brotliCompressSync, constants, gzipSync } from "node:zlib";
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import preact from "@preact/preset-vite";
import { type Plugin } from "vite";
import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";

/** Where `npm run dev` finds the API: a server that runs beside it. */
const server = process.env["SELLION_SERVER"] ?? "http://127.0.0.1:8711";

/** What holds for every screen comes first: lists get longer with every test, and then take longer to go through. */
class ScreensFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const ofScreens = (file: TestSpecification) => Number(/\/screens-[^/]*$/.test(file.moduleId));
    return (await super.sort(files)).sort((one, other) => ofScreens(other) - ofScreens(one));
  }
}

/** How many files of browser tests run at the same time, each on a server of its own: one where a server is given. */
const BROWSER_WORKERS = process.env["SELLION_TEST_SERVER"] ? 1 : Number(process.env["SELLION_BROWSERS"] ?? 2);

/** What compresses well is stored compressed beside itself, so that the server never compresses. */
function compressed(): Plugin {
  let out = "dist";
  return {
    name: "compressed",
    apply: "build",
    configResolved: config => void (out = config.build.outDir),
    // After the service worker is written, which is at the very end.
    closeBundle: {
      order: "post",
      sequential: true,
      handler: () => {
        for (const file of readdirSync(out, { recursive: true, encoding: "utf8" })) {
          const path = join(out, file);
          if (!statSync(path).isFile() || !/\.(js|css|html|svg|wasm|webmanifest|json)$/.test(file)) continue;
          const bytes = readFileSync(path);
          const quality = { [constants.BROTLI_PARAM_QUALITY]: 10 };
          writeFileSync(`${path}.br`, brotliCompressSync(bytes, { params: quality }));
          writeFileSync(`${path}.gz`, gzipSync(bytes, { level: 9 }));
        }
      },
    },
  };
}

export default defineConfig({
  plugins: [
    preact(),
    VitePWA({
      // A newer build waits until the person takes it: nobody loses a test to an update.
      registerType: "prompt",
      injectRegister: false,
      manifest: {
        name: "Sellion",
        short_name: "Sellion",
        description: "A hospital's respirator fit-testing day",
        start_url: "/",
        display: "standalone",
        background_color: "#edf2f1",
        theme_color: "#0b5a60",
        icons: [192, 512].map(size => ({
          src: `/icon-${size}.png`,
          sizes: `${size}x${size}`,
          type: "image/png",
          purpose: "any maskable",
        })),
      },
      workbox: {
        globPatterns: ["**/*.{js,css,html,svg,png,woff2,wasm}"],
        maximumFileSizeToCacheInBytes: 3_000_000,
        navigateFallback: "/index.html",
        // Only screens are answered from here; the API, its documentation and keys never are.
        navigateFallbackAllowlist: [/^\/$/, /^\/screens\/[^.]*$/],
        cleanupOutdatedCaches: true,
      },
    }),
    compressed(),
  ],
  build: {
    target: "es2022",
    // The policy of the pages allows no data: addresses for scripts and fonts, and files are cached better anyway.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    sourcemap: false,
    // What the parts of a screen are, for scripts/sizes.mjs.
    manifest: "parts.json",
  },
  server: { proxy: { "/api": server, "/health": server, "/.well-known": server } },
  test: {
    sequence: { sequencer: ScreensFirst },
    projects: [
      {
        extends: true,
        test: { name: "unit", include: ["src/**/*.test.ts"], setupFiles: "src/unit-tests.ts" },
      },
      {
        extends: true,
        test: {
          name: "browser",
          include: ["browser/**/*.test.ts"],
          globalSetup: "browser/server.ts",
          testTimeout: 60_000,
          hookTimeout: 120_000,
          maxWorkers: BROWSER_WORKERS,
        },
      },
      {
        extends: true,
        test: {
          name: "bench",
          include: ["browser/**/*.bench.ts"],
          globalSetup: "browser/server.ts",
          testTimeout: 600_000,
          hookTimeout: 120_000,
          maxWorkers: 1,
        },
      },
    ],
  },
});
