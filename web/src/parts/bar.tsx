/** A horizontal bar with its number beside it; length and number say the same, no hue. */
export function Bar({share, label}: {
  /** 0..1. */
  readonly share: number;
  readonly label: string;
}) {
  const width = `${100 * Math.min(1, Math.max(0, share))}%`;
  return (
    <span class="bar">
      <span class="bar-track" aria-hidden="true"><span class="bar-fill" style={{width}} /></span>
      <span class="bar-number">{label}</span>
    </span>
  );
}
