import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { enrolAddress } from "../../app/enrol";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextArea, TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Qr } from "../../kit/qr";
import { deviceWords as words } from "../../words/devices";

export type DeviceWithToken = Wire<"DeviceWithToken">;

/** A token, this once: as a code for a device with a camera, and as text for any other. */
export function Token({ device, onDone }: { device: DeviceWithToken; onDone: () => void }) {
  // This computer may reach the server by a name that the device does not know.
  const [address, setAddress] = useState(location.origin);
  const copy = async () => {
    await navigator.clipboard.writeText(device.token);
    announce(words.token_copied());
  };
  return (
    <Dialog title={words.token_title({ name: device.name })}>
      <Notice tone="wait">
        <p>{words.token_once()}</p>
      </Notice>
      <p>{words.token_scan()}</p>
      <Qr text={enrolAddress(address, device.token)} label={words.token_code()} />
      <TextField
        label={words.address()}
        hint={words.address_hint()}
        autocomplete="off"
        value={address}
        onValue={setAddress}
      />
      <TextArea label={words.token_type()} value={device.token} onValue={() => undefined} readOnly />
      <p class="small soft">{words.token_program()}</p>
      <div class="row">
        <Button kind="main" onClick={onDone}>
          {words.token_done()}
        </Button>
        {/* Browsers lend the clipboard over an encrypted connection only. */}
        {isSecureContext && <Button onClick={() => void copy()}>{words.token_copy()}</Button>}
      </div>
    </Dialog>
  );
}
