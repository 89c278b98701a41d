// The life of one timed exposure, as a pure function of time.
//
// All times are milliseconds on one clock (`performance.now()` in the page): the frame that painted the plate, the
// frames after it, and the events that answer. Raw times are kept, so that whoever reads the record can recompute.

/** How long a plate is shown, and how long after that an answer is still taken. */
export interface Limits {
  readonly exposureMs: number;
  readonly graceMs: number;
}

interface Begun {
  readonly limits: Limits;
  readonly onsetMs: number;
  /** Animation frames in which the plate stood, the first included. */
  readonly frames: number;
}

/** `waiting`, then `shown` until its limit, then `blank` but still open for a late answer, then `over`. */
export type Exposure =
  | {readonly phase: 'waiting'}
  | ({readonly phase: 'shown'} & Begun)
  | ({readonly phase: 'blank'; readonly shownMs: number} & Begun)
  | Over;

export type Over = {
  readonly phase: 'over';
  readonly onsetMs: number;
  readonly frames: number;
  readonly shownMs: number;
  /** When the answer came; null when none did. */
  readonly responseMs: number | null;
  readonly end: 'answered' | 'late' | 'expired' | 'interrupted';
};

export const waiting: Exposure = {phase: 'waiting'};

/** Starts an exposure; `onsetMs` is the time of the animation frame that painted the plate. */
export function show(onsetMs: number, limits: Limits): Exposure {
  return {phase: 'shown', limits, onsetMs, frames: 1};
}

/** An animation frame at `nowMs`: counts it, blanks the plate when its limit has passed, closes it after the grace. */
export function frame(exposure: Exposure, nowMs: number): Exposure {
  switch (exposure.phase) {
    case 'waiting':
    case 'over':
      return exposure;
    case 'shown': {
      const shownMs = nowMs - exposure.onsetMs;
      if (shownMs < exposure.limits.exposureMs) return {...exposure, frames: exposure.frames + 1};
      return frame({...exposure, phase: 'blank', shownMs}, nowMs);
    }
    case 'blank':
      if (nowMs < closesMs(exposure)) return exposure;
      return over(exposure, exposure.shownMs, null, 'expired');
  }
}

/**
 * An answer given at `nowMs`. Before onset or after the grace it changes nothing but the clock. Whether it is late
 * follows from its own time, not from whether the blanking frame happened to be handled first.
 */
export function respond(exposure: Exposure, nowMs: number): Exposure {
  if (exposure.phase !== 'shown' && exposure.phase !== 'blank') return exposure;
  if (nowMs < exposure.onsetMs) return exposure;
  if (nowMs >= closesMs(exposure)) return frame(exposure, nowMs);
  const stoodMs = exposure.phase === 'blank' ? exposure.shownMs : nowMs - exposure.onsetMs;
  return over(exposure, stoodMs, nowMs, nowMs - exposure.onsetMs < exposure.limits.exposureMs ? 'answered' : 'late');
}

/** The person stopped, or the page went away, while the item was open. */
export function interrupt(exposure: Exposure, nowMs: number): Exposure {
  if (exposure.phase !== 'shown' && exposure.phase !== 'blank') return exposure;
  const stoodMs = exposure.phase === 'blank' ? exposure.shownMs : Math.max(0, nowMs - exposure.onsetMs);
  return over(exposure, stoodMs, null, 'interrupted');
}

/**
 * Where several symbols may be chosen and time runs out before "done": what stands chosen counts, answered at the
 * moment of the last choice.
 */
export function settleWithChoice(expired: Over, chosenMs: number, limits: Limits): Over {
  const end = chosenMs - expired.onsetMs < limits.exposureMs ? 'answered' : 'late';
  return {...expired, responseMs: chosenMs, end};
}

/** Share of the exposure still to come, 1 at onset and 0 at the limit, for drawing the shrinking border. */
export function remainingShare(exposure: Exposure, nowMs: number): number {
  switch (exposure.phase) {
    case 'waiting':
      return 1;
    case 'shown':
      return Math.min(1, Math.max(0, 1 - (nowMs - exposure.onsetMs) / exposure.limits.exposureMs));
    case 'blank':
    case 'over':
      return 0;
  }
}

function closesMs(begun: Begun): number {
  return begun.onsetMs + begun.limits.exposureMs + begun.limits.graceMs;
}

function over(begun: Begun, shownMs: number, responseMs: number | null, end: Over['end']): Over {
  return {phase: 'over', onsetMs: begun.onsetMs, frames: begun.frames, shownMs, responseMs, end};
}
