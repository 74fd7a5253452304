import { Button } from "../../kit/button";
import { Page } from "../../kit/page";
import { Empty } from "../../kit/states";
import { shell } from "../../words/shell";

/** An address that is no screen, or none for whoever is signed in. */
export default function NotFound() {
  return (
    <Page title={shell.not_found()} narrow>
      <Empty title={shell.not_found_todo()}>
        <Button kind="main" href="/">
          {shell.to_start()}
        </Button>
      </Empty>
    </Page>
  );
}
