/**
 * A border around the plate that shrinks while the plate stands. Luminance only, so that every observer can read it.
 * Drawn over whatever it surrounds; the page says how much is left.
 */
export function TimeBorder({remaining}: {
  /** Share of the exposure still to come, 0..1. */
  readonly remaining: number;
}) {
  return (
    <svg class="time-border" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
      <rect class="time-track" x="1" y="1" width="98" height="98" rx="4" />
      {remaining > 0 && (
        <rect class="time-left" x="1" y="1" width="98" height="98" rx="4" pathLength={100} stroke-dasharray={`${100 * remaining} 100`} />
      )}
    </svg>
  );
}
