// What the tests of pure parts have in place of a browser.
import "fake-indexeddb/auto";
import { vi } from "vitest";

vi.stubGlobal("navigator", { languages: ["en-GB"] });
vi.stubGlobal("document", { documentElement: { lang: "", dataset: {} } });
