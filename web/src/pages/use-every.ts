// What a page asks for again and again while somebody looks at it.

import {useEffect, useMemo, useRef, useState} from 'preact/hooks';

import type {Reply} from '../api/client.ts';
import {createEvery} from '../api/every.ts';
import type {Trouble} from '../model/wire.ts';

export interface Asked<T> {
  /** The last good answer; it stays while the server is away. Null before the first. */
  readonly value: T | null;
  /** What was wrong with the last ask; null as soon as one goes well. */
  readonly trouble: Trouble | null;
  readonly again: () => void;
  /** Takes the answer to a change made here; what was asked before it is let go. */
  readonly put: (value: T) => void;
}

/**
 * Asks when the page stands, and `everyMs` after each answer, as long as `asLongAs` says so of the last good one. Nothing is asked while
 * `everyMs` is null, while the page is hidden, or once it has gone.
 */
export function useEvery<T>(everyMs: number | null, ask: () => Promise<Reply<T> | null>, {asLongAs = () => true}: {
  readonly asLongAs?: (last: T) => boolean;
} = {}): Asked<T> {
  const [known, setKnown] = useState<{readonly value: T | null; readonly trouble: Trouble | null}>({value: null, trouble: null});
  const now = useRef({ask, asLongAs});
  now.current = {ask, asLongAs};
  const every = useMemo(() => createEvery<T>({
    pauseMs: (last) => (last === null || now.current.asLongAs(last) ? everyMs : null),
    ask: () => now.current.ask(),
    take: (reply) => setKnown(({value}) => (reply.ok ? {value: reply.value, trouble: null} : {value, trouble: reply.trouble})),
    later: (work, delayMs) => {
      const timer = setTimeout(work, delayMs);
      return () => clearTimeout(timer);
    },
  }), [everyMs]);
  useEffect(() => {
    const look = () => every.seen(everyMs !== null && document.visibilityState !== 'hidden');
    look();
    document.addEventListener('visibilitychange', look);
    return () => {
      document.removeEventListener('visibilitychange', look);
      every.stop();
    };
  }, [every]);
  return {...known, again: every.again, put: every.put};
}
