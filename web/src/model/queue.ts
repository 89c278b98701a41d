// The queue of answers not yet known to be saved, as pure functions.
//
// An answer leaves the queue only when the server has said that it is on stable storage, or has refused it for good; a
// refused one is kept and shown. Everything else (no connection, too busy, server fault) is tried again with the same id.

import type {Answer} from './answer.ts';
import {type Decoder, id, list, record, text} from './decode.ts';
import {answerBody, type Trouble} from './wire.ts';

export interface Refused {
  readonly answer: Answer;
  readonly message: string;
  readonly remedy: string;
}

export interface Queue {
  readonly waiting: readonly Answer[];
  readonly refused: readonly Refused[];
}

export const emptyQueue: Queue = {waiting: [], refused: []};

const answer = record<Answer>({id, body: answerBody});

/** Reads a queue back from the browser's storage. */
export const queue: Decoder<Queue> = record<Queue>({
  waiting: list(answer),
  refused: list(record<Refused>({answer, message: text, remedy: text})),
});

/** Adds an answer; the same id twice is one answer. */
export function enqueue(queue: Queue, added: Answer): Queue {
  if (queue.waiting.some((waiting) => waiting.id === added.id)) return queue;
  return {...queue, waiting: [...queue.waiting, added]};
}

export function saved(queue: Queue, savedId: string): Queue {
  return {...queue, waiting: queue.waiting.filter((waiting) => waiting.id !== savedId)};
}

export function refuse(queue: Queue, refusedId: string, why: Trouble): Queue {
  const found = queue.waiting.find((waiting) => waiting.id === refusedId);
  if (found === undefined) return queue;
  return {
    waiting: queue.waiting.filter((waiting) => waiting.id !== refusedId),
    refused: [...queue.refused, {answer: found, message: why.message, remedy: why.remedy}],
  };
}

/** Whether trying again can help: no connection, time-out, too many requests, or a fault on the server's side. */
export function worthRetrying(trouble: Trouble): boolean {
  return trouble.status === 0 || trouble.status === 408 || trouble.status === 429 || trouble.status >= 500;
}

const DELAYS_MS = [500, 1000, 2000, 4000, 8000, 15_000];

/**
 * How long to wait after the `failures`-th failure in a row, counted from 1: half a second, doubling to 15 s, each ±50 %
 * so that a class whose connection comes back does not arrive in one moment.
 *
 * @param uniform a random number in [0, 1).
 * @param retryAfterMs what the server asked for; never undercut.
 */
export function retryDelayMs(failures: number, uniform: number, retryAfterMs: number | null): number {
  const base = DELAYS_MS[Math.min(failures, DELAYS_MS.length) - 1] ?? DELAYS_MS[0]!;
  return Math.max(base * (0.5 + uniform), retryAfterMs ?? 0);
}
