import {expect, test} from 'vitest';

import type {Answer} from '../model/answer.ts';
import type {Receipt, SittingState} from '../model/wire.ts';
import type {Reply} from './client.ts';
import {createKeep, type Keep} from './keep.ts';
import {createOutbox, type Outbox} from './outbox.ts';

const id = (digit: string) => digit.repeat(32);
const answer = (digit: string, item: number): Answer => ({
  id: id(digit),
  body: {
    item, symbols: ['4'], end: 'answered', onset_ms: 1, response_ms: 2, shown_ms: 1, frames: 1, hidden: false, page_load: id('f'),
  },
});

function receipt(answered: number, status: Receipt['status'] = 'stored'): Reply<Receipt> {
  const state: SittingState = {
    sitting: id('a'), practical: id('b'), practical_name: 'x', pseudonym: 'quiet harbour', on_loan: false, off_record: false, examined: false, eye: 'both', state: 'running', tell: 'later', size_px: 640, exposure_ms: 3000,
    grace_ms: 10_000, family: 'digits', symbols: ['4'], answered, round: null,
  };
  return {ok: true, value: {status, state}};
}

function failure(status: number, retryAfterMs: number | null = null): Reply<Receipt> {
  return {ok: false, trouble: {status, code: 'x', thing: 'answer', place: 'p', message: `status ${status}`, remedy: 'r', retryAfterMs}};
}

function memoryKeep(): Keep {
  const map = new Map<string, string>();
  return {
    durable: () => true, read: (key) => map.get(key) ?? null, write: (key, value) => void map.set(key, value),
    remove: (key) => void map.delete(key),
  };
}

/** An outbox whose server replies from a script and whose delays pass when told to. */
function bench(replies: readonly Reply<Receipt>[], keep = memoryKeep()) {
  const script = [...replies];
  const sent: string[] = [];
  const delays: {work: () => void; delayMs: number; cancelled: boolean}[] = [];
  const outbox: Outbox = createOutbox({
    key: 'queue', keep, uniform: () => 0.5, changed: () => undefined,
    send: (answer) => {
      sent.push(answer.id[0]!);
      const reply = script.shift();
      return reply === undefined ? new Promise(() => undefined) : Promise.resolve(reply);
    },
    later: (work, delayMs) => {
      const delay = {work, delayMs, cancelled: false};
      delays.push(delay);
      return () => { delay.cancelled = true; };
    },
  });
  return {outbox, sent, delays, keep};
}

const settled = () => new Promise((resolve) => setTimeout(resolve, 0));

test('answers go out in order and leave the queue only when saved', async () => {
  const {outbox, sent} = bench([receipt(1), receipt(2)]);
  outbox.add(answer('1', 0));
  outbox.add(answer('2', 1));
  expect(outbox.state()).toMatchObject({savedCount: 0, queue: {waiting: [{}, {}]}});
  await settled();
  expect(sent).toEqual(['1', '2']);
  expect(outbox.state()).toMatchObject({savedCount: 2, queue: {waiting: [], refused: []}});
});

test('failures are retried with growing waits and the same id, and a duplicate counts as saved', async () => {
  const {outbox, sent, delays} = bench([failure(0), failure(503, 3000), receipt(1, 'duplicate')]);
  outbox.add(answer('1', 0));
  await settled();
  expect(outbox.state().trouble?.status).toBe(0);
  delays[0]!.work();
  await settled();
  delays[1]!.work();
  await settled();
  expect(delays.map((delay) => delay.delayMs)).toEqual([500, 3000]);
  expect(sent).toEqual(['1', '1', '1']);
  expect(outbox.state()).toMatchObject({savedCount: 1, trouble: null, queue: {waiting: []}});
});

test('an answer added during a wait does not jump it', async () => {
  const {outbox, sent, delays} = bench([failure(0), receipt(1), receipt(2)]);
  outbox.add(answer('1', 0));
  await settled();
  outbox.add(answer('2', 1));
  await settled();
  expect(sent).toEqual(['1']);
  delays[0]!.work();
  await settled();
  expect(sent).toEqual(['1', '1', '2']);
});

test('trying now ends the wait, and the waiting timer is cancelled', async () => {
  const {outbox, sent, delays} = bench([failure(0), receipt(1)]);
  outbox.add(answer('1', 0));
  await settled();
  outbox.tryNow();
  await settled();
  expect([sent, delays[0]?.cancelled]).toEqual([['1', '1'], true]);
});

test('a refused answer is kept apart and the next one still goes', async () => {
  const {outbox, sent} = bench([failure(409), receipt(1)]);
  outbox.add(answer('1', 0));
  outbox.add(answer('2', 1));
  await settled();
  expect(sent).toEqual(['1', '2']);
  expect(outbox.state().queue).toMatchObject({waiting: [], refused: [{answer: {id: id('1')}, message: 'status 409'}]});
});

test('another page load finds what was not saved, and sends it', async () => {
  const first = bench([failure(0)]);
  first.outbox.add(answer('1', 0));
  first.outbox.add(answer('2', 1));
  await settled();
  first.outbox.stop();
  const second = bench([receipt(1), receipt(2)], first.keep);
  expect(second.outbox.state().queue.waiting.map((waiting) => waiting.id)).toEqual([id('1'), id('2')]);
  second.outbox.tryNow();
  await settled();
  expect(second.sent).toEqual(['1', '2']);
  expect(first.keep.read('queue')).toBeNull();
});

test('remains that cannot be read are put aside, not thrown away', () => {
  const keep = memoryKeep();
  keep.write('queue', '{"waiting": 7}');
  expect(bench([], keep).outbox.state().queue.waiting).toEqual([]);
  expect(keep.read('queue.unreadable')).toBe('{"waiting": 7}');
});

test('after forgetting, nothing is sent and nothing is left', async () => {
  const {outbox, sent, delays, keep} = bench([failure(0), receipt(1)]);
  outbox.add(answer('1', 0));
  await settled();
  outbox.forget();
  delays[0]!.work();
  await settled();
  expect(sent).toEqual(['1']);
  expect(keep.read('queue')).toBeNull();
});

test('memory stands in for a storage that refuses, and says so', () => {
  const keep = createKeep(() => { throw new Error('denied'); });
  expect(keep.durable()).toBe(false);
  keep.write('key', 'value');
  expect(keep.read('key')).toBe('value');
  keep.remove('key');
  expect(keep.read('key')).toBeNull();
});
