import { render } from "preact";
import "./kit/base.css";
import "./kit/controls.css";
import "./kit/panels.css";
import "./kit/table.css";
import "./app/shell.css";
import "./kit/print.css";
import { App } from "./app/app";
import { readOffer } from "./app/enrol";
import { followNews } from "./app/live";
import { restore } from "./app/session";
import { showTheme } from "./app/theme";
import { watchForUpdates } from "./app/update";
import { chooseLanguage, language } from "./words/language";

showTheme();
chooseLanguage(language.value);
readOffer();
watchForUpdates();
followNews();
void restore();

const root = document.getElementById("app");
if (root) render(<App />, root);
