// Asking for the same thing again and again: never twice at once, and an answer that was overtaken is let go.

import type {Reply} from './client.ts';

export interface Every<T> {
  /** Asks now; while an ask is under way, once more as soon as its answer has come. */
  readonly again: () => void;
  /** Takes what is newer than any ask under way, such as the answer to a change made here. */
  readonly put: (value: T) => void;
  /** Whether somebody looks: while nobody does, nothing is asked, and afterwards at once. */
  readonly seen: (isSeen: boolean) => void;
  /** Nothing is asked or taken any more. */
  readonly stop: () => void;
}

/**
 * Asks at once when first `seen`, then each time a pause after the last answer. `pauseMs` gets the last good answer, null before the first,
 * and says how long to wait; null: until told to. `ask` must not throw; its null says that there is nothing to take. `take` gets the other replies.
 */
export function createEvery<T>({pauseMs, ask, take, later}: {
  readonly pauseMs: (last: T | null) => number | null;
  readonly ask: () => Promise<Reply<T> | null>;
  readonly take: (reply: Reply<T>) => void;
  readonly later: (work: () => void, delayMs: number) => () => void;
}): Every<T> {
  let last: T | null = null;
  let turn = 0;
  let underWay = false;
  let isWantedAgain = false;
  let isLookedAt = false;
  let stopped = false;
  let forget: () => void = () => undefined;

  async function run(): Promise<void> {
    forget();
    if (stopped || !isLookedAt) return;
    underWay = true;
    isWantedAgain = false;
    const asked = turn;
    const reply = await ask();
    underWay = false;
    if (stopped) return;
    if (reply !== null && asked === turn) {
      if (reply.ok) last = reply.value;
      take(reply);
    }
    if (isWantedAgain) void run();
    else plan();
  }

  function plan(): void {
    forget();
    const delayMs = pauseMs(last);
    if (delayMs !== null && isLookedAt && !stopped) forget = later(() => void run(), delayMs);
  }

  function again(): void {
    if (underWay) isWantedAgain = true;
    else void run();
  }

  return {
    again,
    put: (value) => {
      if (stopped) return;
      ++turn;
      last = value;
      take({ok: true, value});
      if (!underWay) plan();
    },
    seen: (isSeen) => {
      if (isSeen === isLookedAt) return;
      isLookedAt = isSeen;
      if (!isSeen) forget();
      else if (last === null || pauseMs(last) !== null) again();
    },
    stop: () => {
      stopped = true;
      forget();
    },
  };
}
