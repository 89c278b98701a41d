// Frames that a screen skipped, from the times at which it painted.

/** How many frames are missing between these times, ms, taking the middle interval for the screen's own. */
export function droppedFrames(times: readonly number[]): number {
  const gaps = times.slice(1).map((time, i) => time - times[i]!).filter((gap) => gap > 0);
  if (gaps.length < 3) return 0;
  const usual = [...gaps].sort((a, b) => a - b)[Math.floor(gaps.length / 2)]!;
  return gaps.reduce((missing, gap) => missing + Math.max(0, Math.round(gap / usual) - 1), 0);
}
