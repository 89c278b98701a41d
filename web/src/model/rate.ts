// How often the page followed while a curve or a point was dragged.

const OVER_MS = 1000;
/** Shorter than this, a drag says nothing about a rate. */
const LEAST_MS = 100;

/** The times still needed for the rate at the newest of them. */
export function remembered(timesMs: readonly number[], nowMs: number): readonly number[] {
  return [...timesMs.filter((time) => time > nowMs - OVER_MS), nowMs];
}

/** Updates a second over the last second of dragging up to the newest update; null while there is too little to say. */
export function updatesPerSecond(timesMs: readonly number[]): number | null {
  const newest = timesMs.at(-1);
  if (newest === undefined) return null;
  const counted = timesMs.filter((time) => time > newest - OVER_MS);
  const spanMs = newest - counted[0]!;
  return spanMs < LEAST_MS ? null : ((counted.length - 1) * 1000) / spanMs;
}
