// @vitest-environment happy-dom
import {render} from 'preact';
import {act} from 'preact/test-utils';
import {afterEach, beforeEach, expect, test, vi} from 'vitest';

import type {Reply} from '../api/client.ts';
import type {Trouble} from '../model/wire.ts';
import {type Asked, useEvery} from './use-every.ts';

const trouble: Trouble = {status: 0, code: 'unreachable', thing: 'program', place: '/x', message: 'Not reached.', remedy: 'Wait.', retryAfterMs: null};
let replies: Reply<number>[] = [];
let asks = 0;
let now: Asked<number>;

function Part({everyMs}: {readonly everyMs: number | null}) {
  now = useEvery(everyMs, () => Promise.resolve(replies[asks++] ?? {ok: false, trouble}), {asLongAs: (last) => last < 9});
  return <p>{now.value ?? 'nothing'}{now.trouble !== null && `, ${now.trouble.code}`}</p>;
}

const root = () => document.body;
const draw = (everyMs: number | null) => act(() => render(<Part everyMs={everyMs} />, root()));
const pass = (ms: number) => act(async () => { await vi.advanceTimersByTimeAsync(ms); });
function hide(isHidden: boolean) {
  Object.defineProperty(document, 'visibilityState', {value: isHidden ? 'hidden' : 'visible', configurable: true});
  document.dispatchEvent(new Event('visibilitychange'));
}

beforeEach(() => {
  vi.useFakeTimers();
  replies = [];
  asks = 0;
});
afterEach(async () => {
  await act(() => render(null, root()));
  hide(false);
  vi.useRealTimers();
});

test('draws the last good answer, also while the server is away', async () => {
  replies = [{ok: true, value: 1}, {ok: false, trouble}, {ok: true, value: 2}];
  await draw(1000);
  await pass(0);
  expect(root().textContent).toBe('1');
  await pass(1000);
  expect(root().textContent).toBe('1, unreachable');
  await pass(1000);
  expect(root().textContent).toBe('2');
});

test('asks no more once the answer says so, nor without an interval', async () => {
  replies = [{ok: true, value: 9}];
  await draw(1000);
  await pass(5000);
  expect([asks, root().textContent]).toEqual([1, '9']);
  await draw(null);
  await pass(5000);
  expect([asks, root().textContent]).toEqual([1, '9']);
});

test('stops while hidden and when it goes', async () => {
  replies = [{ok: true, value: 1}, {ok: true, value: 2}, {ok: true, value: 3}];
  await draw(1000);
  await pass(0);
  hide(true);
  await pass(5000);
  expect(asks).toBe(1);
  hide(false);
  await pass(0);
  expect([asks, root().textContent]).toEqual([2, '2']);
  await act(() => render(null, root()));
  await pass(5000);
  expect(asks).toBe(2);
  hide(true);
  hide(false);
  await pass(5000);
  expect(asks, 'and nobody listens any more').toBe(2);
});

test('takes what a change made here brought', async () => {
  replies = [{ok: true, value: 1}];
  await draw(1000);
  await pass(0);
  await act(() => now.put(9));
  await pass(5000);
  expect([asks, root().textContent]).toEqual([1, '9']);
});
