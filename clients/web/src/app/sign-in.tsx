import { useState } from "preact/hooks";
import { Button } from "../kit/button";
import { Choice, TextField } from "../kit/field";
import { Notice, ProblemNotice } from "../kit/notice";
import { Page, Panel } from "../kit/page";
import { chooseLanguage, language, LANGUAGES, type Language } from "../words/language";
import { shell } from "../words/shell";
import { signInWords as words } from "../words/sign-in";
import { signIn, signInDevice } from "./session";
import { useAction } from "./use-action";
import { Wordmark } from "./wordmark";

const languages = Object.entries(LANGUAGES).map(([value, label]) => ({ value: value as Language, label }));

/** The first thing anybody sees: who are you, and what this program does not decide. */
export function SignIn() {
  const [device, setDevice] = useState(false);
  return (
    <main class="sign-in" id="content">
      <div class="sign-in-side">
        <Wordmark large />
        <Notice tone="plain" title={words.caution_title()}>
          <p>{words.caution()}</p>
        </Notice>
        <Choice
          label={shell.language()}
          value={language.value}
          options={languages}
          onValue={chooseLanguage}
        />
      </div>
      <Page title={words.title()} narrow>
        {!isSecureContext && <Notice tone="wait" title={words.plain_http()} />}
        <Panel>
          {device ? <DeviceForm /> : <PersonForm />}
          <div>
            <Button kind="quiet" onClick={() => setDevice(!device)}>
              {device ? words.person() : words.device()}
            </Button>
          </div>
        </Panel>
      </Page>
    </main>
  );
}

/** Username and password; used at the start and in the dialog over running work. */
export function PersonForm() {
  const [username, setUsername] = useState("");
  const [password, setPassword] = useState("");
  const action = useAction(signIn);
  const submit = async (event: Event) => {
    event.preventDefault();
    // A password that failed is typed again from its beginning.
    if (!(await action.run(username, password))) setPassword("");
  };
  return (
    <form class="stack" onSubmit={event => void submit(event)}>
      <TextField
        label={words.username()}
        value={username}
        onValue={setUsername}
        autocomplete="username"
        required
        large
      />
      <TextField
        label={words.password()}
        type="password"
        value={password}
        onValue={setPassword}
        autocomplete="current-password"
        required
        large
      />
      <ProblemNotice problem={action.problem} />
      <Button kind="main" size="large" type="submit" busy={action.busy}>
        {words.sign_in()}
      </Button>
    </form>
  );
}

function DeviceForm() {
  const [token, setToken] = useState("");
  const action = useAction(signInDevice);
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        void action.run(token.trim());
      }}
    >
      <TextField
        label={words.token()}
        hint={words.token_hint()}
        value={token}
        onValue={setToken}
        autocomplete="off"
        required
      />
      <ProblemNotice problem={action.problem} />
      <Button kind="main" size="large" type="submit" busy={action.busy}>
        {words.sign_in()}
      </Button>
    </form>
  );
}
