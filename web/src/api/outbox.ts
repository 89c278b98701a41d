// Sends the waiting answers one after another until each is saved or refused.
//
// The queue is written down before an answer is sent and after each reply, so that a reload, a crash or a lost
// connection loses nothing; the same id goes out every time, so that nothing is counted twice.

import type {Answer} from '../model/answer.ts';
import {emptyQueue, enqueue, type Queue, queue as queueDecoder, refuse, retryDelayMs, saved, worthRetrying} from '../model/queue.ts';
import type {Receipt, Trouble} from '../model/wire.ts';
import type {Reply} from './client.ts';
import type {Keep} from './keep.ts';

export interface OutboxState {
  readonly queue: Queue;
  /** Answers of this sitting on stable storage, by the server's last word. */
  readonly savedCount: number;
  /** What stands in the way; null while all is well. */
  readonly trouble: Trouble | null;
  /** False when unsaved answers would be lost on leaving the page. */
  readonly durable: boolean;
}

export interface Outbox {
  readonly state: () => OutboxState;
  readonly add: (answer: Answer) => void;
  /** Tries at once instead of waiting out the delay. */
  readonly tryNow: () => void;
  /** The server's own count, from a state fetched elsewhere. */
  readonly learnSaved: (count: number) => void;
  /** Sends nothing more. */
  readonly stop: () => void;
  /** Sends nothing more and forgets what was kept. */
  readonly forget: () => void;
}

export interface OutboxNeeds {
  readonly key: string;
  readonly keep: Keep;
  readonly send: (answer: Answer) => Promise<Reply<Receipt>>;
  readonly uniform: () => number;
  readonly later: (work: () => void, delayMs: number) => () => void;
  readonly changed: (state: OutboxState) => void;
}

export function createOutbox({key, keep, send, uniform, later, changed}: OutboxNeeds): Outbox {
  let queue = readQueue(keep, key);
  let savedCount = 0;
  let failures = 0;
  let trouble: Trouble | null = null;
  let sending = false;
  let stopped = false;
  let cancelDelay: (() => void) | null = null;

  const state = (): OutboxState => ({queue, savedCount, trouble, durable: keep.durable()});

  function become(next: Queue): void {
    queue = next;
    if (queue.waiting.length === 0 && queue.refused.length === 0) keep.remove(key);
    else keep.write(key, JSON.stringify(queue));
  }

  async function sendNext(): Promise<void> {
    const first = queue.waiting[0];
    if (sending || stopped || first === undefined) return;
    cancelDelay?.();
    cancelDelay = null;
    sending = true;
    const reply = await send(first);
    sending = false;
    if (stopped) return;
    settle(first, reply);
    changed(state());
    if (cancelDelay === null) void sendNext();
  }

  function settle(answer: Answer, reply: Reply<Receipt>): void {
    if (reply.ok) {
      failures = 0;
      trouble = null;
      savedCount = Math.max(savedCount, reply.value.state.answered);
      become(saved(queue, answer.id));
    } else if (worthRetrying(reply.trouble)) {
      failures += 1;
      trouble = reply.trouble;
      cancelDelay = later(() => void sendNext(), retryDelayMs(failures, uniform(), reply.trouble.retryAfterMs));
    } else {
      failures = 0;
      trouble = null;
      become(refuse(queue, answer.id, reply.trouble));
    }
  }

  function stop(): void {
    stopped = true;
    cancelDelay?.();
  }

  return {
    state,
    add: (answer) => {
      become(enqueue(queue, answer));
      changed(state());
      // While a delay runs, the answers before this one are being retried; it goes out after them.
      if (cancelDelay === null) void sendNext();
    },
    tryNow: () => void sendNext(),
    learnSaved: (count) => {
      savedCount = Math.max(savedCount, count);
      changed(state());
    },
    stop,
    forget: () => {
      stop();
      keep.remove(key);
    },
  };
}

/** What another page load left behind; unreadable remains are put aside rather than thrown away. */
function readQueue(keep: Keep, key: string): Queue {
  const kept = keep.read(key);
  if (kept === null) return emptyQueue;
  try {
    return queueDecoder(JSON.parse(kept), key);
  } catch {
    keep.write(`${key}.unreadable`, kept);
    return emptyQueue;
  }
}
