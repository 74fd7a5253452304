/** The name with its sign: the bridge of a nose, and the point on it where a seal begins. */
export function Wordmark({ large }: { large?: boolean }) {
  const size = large ? 44 : 28;
  return (
    <span class={large ? "wordmark wordmark-large" : "wordmark"}>
      <svg viewBox="0 0 32 32" width={size} height={size} aria-hidden="true">
        <rect width="32" height="32" rx="8" fill="var(--accent)" />
        <path
          d="M11 5c0 7 1 9 5 9s5-2 5-9M16 14v13"
          fill="none"
          stroke="var(--on-accent)"
          stroke-width="2.6"
          stroke-linecap="round"
        />
        <circle cx="16" cy="14" r="3.4" fill="var(--on-accent)" />
      </svg>
      <span>Sellion</span>
    </span>
  );
}
