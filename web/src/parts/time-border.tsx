/** Between the outer edge of the border and the plate, CSS px. */
export const BORDER_PX = 18;
const STROKE_PX = 8;
/** The corners of the border are rounded by this. */
const ROUND_PX = 14;

/**
 * A border around the plate that shrinks while the plate stands. Luminance only, so that every observer can read it.
 * Drawn over whatever it surrounds; the page says how much is left.
 */
export function TimeBorder({remaining, platePx}: {
  /** Share of the exposure still to come, 0..1. */
  readonly remaining: number;
  /** Side of the plate, CSS px. */
  readonly platePx: number;
}) {
  const side = platePx + 2 * BORDER_PX;
  const rect = {x: STROKE_PX / 2, y: STROKE_PX / 2, width: side - STROKE_PX, height: side - STROKE_PX, rx: ROUND_PX};
  return (
    <svg class="time-border" width={side} height={side} viewBox={`0 0 ${side} ${side}`} aria-hidden="true">
      <rect class="time-track" {...rect} />
      {remaining > 0 && <rect class="time-left" {...rect} pathLength={100} stroke-dasharray={`${100 * remaining} 100`} />}
    </svg>
  );
}
