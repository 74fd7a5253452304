import { useState } from "preact/hooks";
import { Button } from "../kit/button";
import { Dialog } from "../kit/dialog";
import { Notice } from "../kit/notice";
import { signInWords as words } from "../words/sign-in";
import { ended, isDevice, session, signOut, undisturbed } from "./session";
import { PersonForm } from "./sign-in";

/** Over running work whose sign-in ended. What is on the screen stays, and what was asked of the server goes on. */
export function SignInAgain() {
  const [leaving, setLeaving] = useState(false);
  if (!ended.value || undisturbed.value) return null;
  return (
    <Dialog title={words.again_title()}>
      <p>
        {isDevice.value
          ? words.device_over()
          : words.again_intro({ name: session.value?.display_name ?? "" })}
      </p>
      {!isDevice.value && <PersonForm />}
      {leaving && <Notice tone="wait" title={words.somebody_else_lost()} />}
      <div>
        {/* A second, different gesture: the first tap only says what is lost. */}
        <Button
          kind={leaving ? "stop" : "quiet"}
          onClick={() => (leaving ? void signOut() : setLeaving(true))}
        >
          {words.somebody_else()}
        </Button>
      </div>
    </Dialog>
  );
}
