/** What a state means for the person in front of the screen. Each tone has a word, a colour and a silhouette. */
export type Tone = "go" | "wait" | "stop" | "unknown" | "check" | "plain";

const paths: Record<Tone, preact.JSX.Element> = {
  // A full disc with a tick.
  go: (
    <>
      <circle cx="12" cy="12" r="11" fill="currentColor" />
      <path d="M6.5 12.5l3.8 3.8 7.2-8" fill="none" stroke="var(--on-tone)" stroke-width="2.6" />
    </>
  ),
  // A half-filled ring: time that runs.
  wait: (
    <>
      <circle cx="12" cy="12" r="9.7" fill="none" stroke="currentColor" stroke-width="2.6" />
      <path d="M12 2.3a9.7 9.7 0 0 1 0 19.4z" fill="currentColor" />
    </>
  ),
  // A square with a bar.
  stop: (
    <>
      <rect x="1.5" y="1.5" width="21" height="21" rx="3" fill="currentColor" />
      <path d="M6 12h12" stroke="var(--on-tone)" stroke-width="3.4" />
    </>
  ),
  // A diamond with a question.
  unknown: (
    <>
      <path d="M12 .8 23.2 12 12 23.2.8 12z" fill="currentColor" />
      <path
        d="M9.4 9.7a2.7 2.7 0 1 1 3.9 2.4c-.9.5-1.3 1-1.3 2"
        fill="none"
        stroke="var(--on-tone)"
        stroke-width="2"
      />
      <circle cx="12" cy="16.8" r="1.25" fill="var(--on-tone)" />
    </>
  ),
  // A card that is struck through: it is not this one.
  check: (
    <>
      <rect
        x="1.2"
        y="4"
        width="21.6"
        height="16"
        rx="2.6"
        fill="none"
        stroke="currentColor"
        stroke-width="2.4"
      />
      <path d="M5 22 19 2" stroke="currentColor" stroke-width="2.8" />
    </>
  ),
  // An open ring with a dot: something to read.
  plain: (
    <>
      <circle cx="12" cy="12" r="10" fill="none" stroke="currentColor" stroke-width="2.2" />
      <path d="M12 11v6" stroke="currentColor" stroke-width="2.4" />
      <circle cx="12" cy="7.4" r="1.4" fill="currentColor" />
    </>
  ),
};

/** The silhouette of a tone. The word always stands beside it, so it is hidden from those who listen. */
export function Shape({ tone, size = 24 }: { tone: Tone; size?: number | string }) {
  return (
    <svg
      viewBox="0 0 24 24"
      width={size}
      height={size}
      aria-hidden="true"
      stroke-linecap="round"
      stroke-linejoin="round"
    >
      {paths[tone]}
    </svg>
  );
}
