// How evenly the screen is refreshed, from the times of animation frames.

export interface FrameStatistics {
  readonly refreshHz: number;
  /** Over the middle nine tenths of the frames that came in their turn. */
  readonly spreadMs: number;
  readonly dropped: number;
}

/** How long frames are watched, ms. */
export const WATCH_MS = 2000;
const LEAST_FRAMES = 10;

/** Null while there are too few frames to say anything. */
export function frameStatistics(timesMs: readonly number[]): FrameStatistics | null {
  const intervals = timesMs.slice(1).map((time, at) => time - timesMs[at]!).sort((a, b) => a - b);
  if (intervals.length < LEAST_FRAMES) return null;
  const median = quantile(intervals, 0.5);
  if (median <= 0) return null;
  const missed = intervals.map((interval) => Math.max(0, Math.round(interval / median) - 1));
  const inTurn = intervals.filter((_, at) => missed[at] === 0);
  return {
    refreshHz: round(1000 / median), spreadMs: round(quantile(inTurn, 0.95) - quantile(inTurn, 0.05)),
    dropped: missed.reduce((sum, count) => sum + count, 0),
  };
}

function quantile(sorted: readonly number[], share: number): number {
  const place = share * (sorted.length - 1);
  const below = sorted[Math.floor(place)]!;
  return below + (sorted[Math.ceil(place)]! - below) * (place - Math.floor(place));
}

function round(value: number): number {
  return Number(value.toFixed(2));
}
