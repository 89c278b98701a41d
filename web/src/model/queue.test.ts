import {expect, test} from 'vitest';

import type {Answer} from './answer.ts';
import {emptyQueue, enqueue, queue as queueDecoder, refuse, retryDelayMs, saved, worthRetrying} from './queue.ts';
import type {Trouble} from './wire.ts';

const answer = (digit: string, item: number): Answer => ({
  id: digit.repeat(32),
  body: {
    item, symbols: ['4'], end: 'answered', onset_ms: 1, response_ms: 2, shown_ms: 1, frames: 1, hidden: false,
    page_load: 'f'.repeat(32),
  },
});

const trouble = (status: number): Trouble => ({
  status, code: 'x', thing: 'answer', place: 'p', message: 'm', remedy: 'r', retryAfterMs: null,
});

test('the same answer enqueued twice is one answer', () => {
  const queue = enqueue(enqueue(emptyQueue, answer('1', 0)), answer('1', 0));
  expect(queue.waiting).toHaveLength(1);
});

test('a refused answer is kept with its reason', () => {
  const queue = refuse(enqueue(enqueue(emptyQueue, answer('1', 0)), answer('2', 1)), '1'.repeat(32), trouble(409));
  expect(queue.waiting.map((waiting) => waiting.body.item)).toEqual([1]);
  expect(queue.refused).toEqual([{answer: answer('1', 0), message: 'm', remedy: 'r'}]);
});

test('only a saved answer leaves without a trace', () => {
  expect(saved(enqueue(emptyQueue, answer('1', 0)), '1'.repeat(32))).toEqual(emptyQueue);
  expect(saved(enqueue(emptyQueue, answer('1', 0)), '2'.repeat(32)).waiting).toHaveLength(1);
});

test('a queue survives its own JSON', () => {
  const queue = refuse(enqueue(enqueue(emptyQueue, answer('1', 0)), answer('2', 1)), '1'.repeat(32), trouble(422));
  expect(queueDecoder(JSON.parse(JSON.stringify(queue)), 'queue')).toEqual(queue);
});

test.each([0, 408, 429, 500, 503])('status %d is tried again', (status) => {
  expect(worthRetrying(trouble(status))).toBe(true);
});

test.each([400, 403, 404, 409, 410, 413, 421, 422])('status %d is final', (status) => {
  expect(worthRetrying(trouble(status))).toBe(false);
});

test('waits grow from half a second to fifteen, half of it up or down', () => {
  expect([1, 2, 3, 4, 5, 6, 7, 100].map((failures) => retryDelayMs(failures, 0.5, null))).toEqual(
    [500, 1000, 2000, 4000, 8000, 15_000, 15_000, 15_000],
  );
  expect(retryDelayMs(2, 0, null)).toBe(500);
  expect(retryDelayMs(2, 0.999999, null)).toBeCloseTo(1500, 2);
});

test('what the server asks for is not undercut', () => {
  expect(retryDelayMs(1, 0.5, 2000)).toBe(2000);
  expect(retryDelayMs(6, 0.5, 2000)).toBe(15_000);
});
