import { useState } from "preact/hooks";
import { Button } from "../kit/button";
import { Dialog } from "../kit/dialog";
import { CheckField, Choice } from "../kit/field";
import { Notice } from "../kit/notice";
import { chooseSound, play, soundOn } from "../kit/sound";
import { list } from "../words/format";
import { kit } from "../words/kit";
import { chooseLanguage, language, LANGUAGES, type Language } from "../words/language";
import { shell } from "../words/shell";
import { isDevice, roles, session, signOut } from "./session";
import { useOutbox } from "../outbox/use-outbox";
import { chooseTheme, theme, THEMES } from "./theme";

const languages = Object.entries(LANGUAGES).map(([value, label]) => ({ value: value as Language, label }));

/** Who is signed in here, and how this device shows and says things. */
export function Settings({ onClose }: { onClose: () => void }) {
  const box = useOutbox();
  const [leaving, setLeaving] = useState(false);
  const themes = THEMES.map(value => ({ value, label: shell[`theme_${value}`]() }));
  return (
    <Dialog title={shell.settings()} onClose={onClose}>
      <p>
        {shell.signed_in_as()} <b>{session.value?.display_name}</b>
        <br />
        <span class="soft">{list(roles.value.map(role => shell[`role_${role}`]()))}</span>
      </p>
      <Choice label={shell.language()} value={language.value} options={languages} onValue={chooseLanguage} />
      <Choice label={shell.theme()} value={theme.value} options={themes} onValue={chooseTheme} />
      <CheckField
        label={shell.sound()}
        checked={soundOn.value}
        onValue={on => {
          chooseSound(on);
          play("done");
        }}
      />
      {Boolean(box?.waiting.value) && <Notice tone="wait" title={shell.sign_out_waiting()} />}
      {leaving && <Notice tone="stop" title={shell.sign_out_device()} urgent />}
      <div class="row row-apart">
        {/* A device comes back with a new token only: the first tap says so. */}
        <Button
          kind={leaving ? "stop" : "plain"}
          onClick={() => (isDevice.value && !leaving ? setLeaving(true) : void signOut())}
        >
          {shell.sign_out()}
        </Button>
        <Button kind="main" onClick={onClose}>
          {kit.close()}
        </Button>
      </div>
    </Dialog>
  );
}
