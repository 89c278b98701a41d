import {expect, test} from 'vitest';

import type {Reply} from './client.ts';
import {createEvery} from './every.ts';

const away: Reply<string> = {
  ok: false, trouble: {status: 0, code: 'unreachable', thing: 'program', place: '/x', message: 'Not reached.', remedy: 'Wait.', retryAfterMs: null},
};
const said = (value: string): Reply<string> => ({ok: true, value});
/** Lets what waits for promises go on. */
const settle = () => new Promise((done) => setTimeout(done));

/** Asks are answered by hand, and time passes by hand. */
function bench(pauseMs: (last: string | null) => number | null = () => 2000) {
  const answers: ((reply: Reply<string> | null) => void)[] = [];
  const taken: Reply<string>[] = [];
  const timers = new Set<{readonly work: () => void; readonly delayMs: number}>();
  const every = createEvery<string>({
    pauseMs, ask: () => new Promise((answer) => { answers.push(answer); }), take: (reply) => taken.push(reply),
    later: (work, delayMs) => {
      const timer = {work, delayMs};
      timers.add(timer);
      return () => timers.delete(timer);
    },
  });
  return {
    every, taken,
    asked: () => answers.length,
    waits: () => [...timers].map(({delayMs}) => delayMs),
    answer: async (reply: Reply<string> | null) => {
      answers.at(-1)!(reply);
      await settle();
    },
    pass: async () => {
      for (const timer of [...timers]) {
        timers.delete(timer);
        timer.work();
      }
      await settle();
    },
  };
}

test('asks at once, and again only a pause after the answer', async () => {
  const {every, asked, waits, answer, pass, taken} = bench();
  expect(asked()).toBe(0);
  every.seen(true);
  expect([asked(), waits()]).toEqual([1, []]);
  await pass();
  expect(asked()).toBe(1);
  await answer(said('a'));
  expect([asked(), waits(), taken]).toEqual([1, [2000], [said('a')]]);
  await pass();
  expect(asked()).toBe(2);
});

test('while one ask is under way none is added; who wants another gets one, after it', async () => {
  const {every, asked, answer, waits} = bench();
  every.seen(true);
  every.again();
  every.again();
  expect(asked()).toBe(1);
  await answer(said('a'));
  expect([asked(), waits()]).toEqual([2, []]);
  await answer(said('b'));
  expect([asked(), waits()]).toEqual([2, [2000]]);
});

test('what was asked before a change is let go, and asking goes on from the change', async () => {
  const {every, answer, taken, waits} = bench((last) => (last === 'closed' ? null : 2000));
  every.seen(true);
  every.put('closed');
  await answer(said('open'));
  expect(taken).toEqual([said('closed')]);
  expect(waits(), 'nothing more is to come').toEqual([]);
  every.put('open');
  expect(waits()).toEqual([2000]);
});

test('trouble is taken, and is no end: the next ask may go well', async () => {
  const {every, answer, taken, waits, pass, asked} = bench((last) => (last === null ? 500 : 2000));
  every.seen(true);
  await answer(away);
  expect([taken, waits()]).toEqual([[away], [500]]);
  await pass();
  expect(asked()).toBe(2);
  await answer(said('a'));
  expect([taken.at(-1), waits()]).toEqual([said('a'), [2000]]);
});

test('an ask with nothing to take changes nothing and goes on', async () => {
  const {every, answer, taken, waits} = bench();
  every.seen(true);
  await answer(null);
  expect([taken, waits()]).toEqual([[], [2000]]);
});

test('nothing is asked while nobody looks, and at once when somebody looks again', async () => {
  const {every, answer, asked, waits} = bench();
  every.seen(true);
  await answer(said('a'));
  every.seen(false);
  expect([asked(), waits()]).toEqual([1, []]);
  every.again();
  expect(asked()).toBe(1);
  every.seen(true);
  every.seen(true);
  expect([asked(), waits()]).toEqual([2, []]);
  every.seen(false);
  await answer(said('b'));
  expect(waits(), 'an answer that comes while hidden plans nothing').toEqual([]);
});

test('who needs no more is not asked on looking again', async () => {
  const {every, answer, asked} = bench(() => null);
  every.seen(true);
  await answer(said('done'));
  every.seen(false);
  every.seen(true);
  expect(asked()).toBe(1);
  every.again();
  expect(asked(), 'but when told to').toBe(2);
});

test('once stopped, nothing is asked or taken', async () => {
  const {every, answer, asked, taken, waits} = bench();
  every.seen(true);
  every.stop();
  await answer(said('a'));
  every.again();
  every.put('b');
  every.seen(false);
  every.seen(true);
  expect([asked(), taken, waits()]).toEqual([1, [], []]);
});
