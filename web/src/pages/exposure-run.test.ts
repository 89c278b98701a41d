import {expect, test} from 'vitest';

import type {OpenItem} from '../model/answer.ts';
import type {AnswerBody} from '../model/wire.ts';
import {PAUSE_MS, startRun} from './exposure-run.ts';

/** A run whose frames come when told; `log` keeps the order of what it did. */
function bench(figures: 1 | 2 = 1, examined = false) {
  let pending: ((nowMs: number) => void) | null = null;
  const log: string[] = [];
  const answers: AnswerBody[] = [];
  const opened: OpenItem[] = [];
  const run = startRun({
    item: 4, answerId: 'a'.repeat(32), pageLoad: 'b'.repeat(32), limits: {exposureMs: 1000, graceMs: 2000}, figures, examined,
    nextFrame: (work) => { pending = work; return () => { pending = null; }; },
    paint: () => log.push('paint'), blank: () => log.push('blank'), changed: () => undefined,
    opened: (open) => opened.push(open), finished: (_, body) => { log.push('finished'); answers.push(body); },
  });
  const frameAt = (nowMs: number) => { const work = pending; pending = null; work?.(nowMs); };
  return {run, log, answers, opened, frameAt, idle: () => pending === null};
}

test('the plate is painted in the frame whose time is the onset, after the pause', () => {
  const {log, opened, frameAt} = bench();
  frameAt(100);
  frameAt(100 + PAUSE_MS - 1);
  expect(log).toEqual([]);
  frameAt(100 + PAUSE_MS);
  expect(log).toEqual(['paint']);
  expect(opened).toMatchObject([{onset_ms: 600, item: 4}]);
});

test('an answer blanks the plate and asks for no more frames', () => {
  const {run, log, answers, frameAt, idle} = bench();
  [0, 500, 516, 533].forEach(frameAt);
  run.act({does: 'symbol', symbol: '4'}, 540);
  expect(log).toEqual(['paint', 'blank', 'finished']);
  expect(answers).toMatchObject([{symbols: ['4'], end: 'answered', onset_ms: 500, response_ms: 540, shown_ms: 40, frames: 3}]);
  expect(idle()).toBe(true);
});

test('a key during the pause, or stamped before the onset, answers nothing', () => {
  const {run, answers, frameAt} = bench();
  frameAt(0);
  run.act({does: 'symbol', symbol: '4'}, 300);
  frameAt(500);
  run.act({does: 'no figure'}, 499);
  expect(answers).toEqual([]);
});

test('blanked at the limit, answered late, once', () => {
  const {run, log, answers, frameAt} = bench();
  [0, 500, 1499, 1501].forEach(frameAt);
  expect(log).toEqual(['paint', 'blank']);
  run.act({does: 'no figure'}, 2000);
  run.act({does: 'no figure'}, 2001);
  expect(answers).toMatchObject([{symbols: [], end: 'late', response_ms: 2000, shown_ms: 1001}]);
});

test('nobody answers: it expires', () => {
  const {answers, frameAt, idle} = bench();
  [0, 500, 1501, 3499, 3500].forEach(frameAt);
  expect(answers).toMatchObject([{symbols: [], end: 'expired', response_ms: null}]);
  expect(idle()).toBe(true);
});

test('two may be chosen; Done without a choice does nothing', () => {
  const {run, answers, frameAt} = bench(2);
  [0, 500].forEach(frameAt);
  run.act({does: 'done'}, 600);
  run.act({does: 'symbol', symbol: '7'}, 700);
  run.act({does: 'symbol', symbol: '1'}, 800);
  run.act({does: 'symbol', symbol: '4'}, 850);
  expect(answers).toEqual([]);
  run.act({does: 'done'}, 900);
  expect(answers).toMatchObject([{symbols: ['1', '7'], end: 'answered', response_ms: 900}]);
});

test('hidden while open is recorded, hidden during the pause is not', () => {
  const before = bench();
  before.frameAt(0);
  before.run.hide(100);
  before.frameAt(500);
  before.run.act({does: 'no figure'}, 600);
  expect(before.answers).toMatchObject([{hidden: false}]);
  const during = bench();
  [0, 500].forEach(during.frameAt);
  during.run.hide(550);
  expect(during.opened.at(-1)).toMatchObject({hidden: true, shown_ms: 50});
  during.run.act({does: 'no figure'}, 600);
  expect(during.answers).toMatchObject([{hidden: true}]);
});

test('an interruption ends an open item and leaves an unpainted one alone', () => {
  const early = bench();
  early.frameAt(0);
  expect(early.run.interrupt(100)).toBe(false);
  expect([early.answers, early.idle()]).toEqual([[], true]);
  const open = bench();
  [0, 500].forEach(open.frameAt);
  expect(open.run.interrupt(700)).toBe(true);
  expect(open.answers).toMatchObject([{symbols: [], end: 'interrupted', response_ms: null, shown_ms: 200}]);
});

test('an examiner’s entry stands until it is confirmed, and says how it was said', () => {
  const {run, answers, frameAt} = bench(1, true);
  [0, 500, 516].forEach(frameAt);
  run.act({does: 'done'}, 520);
  run.act({does: 'symbol', symbol: '4'}, 540);
  run.act({does: 'corrected'}, 550);
  run.act({does: 'symbol', symbol: '7'}, 560);
  run.act({does: 'hesitated'}, 570);
  expect(answers).toEqual([]);
  run.act({does: 'done'}, 580);
  expect(answers).toMatchObject([{symbols: ['7'], first_symbols: ['4'], hesitated: true, end: 'answered', response_ms: 580}]);
});

test('lines drawn are sent along, in ms since the plate appeared, with no more points than are kept', () => {
  const {run, answers, frameAt} = bench();
  run.draw([[0.1, 0.1, 100], [0.2, 0.2, 110]]);
  [0, 500, 516].forEach(frameAt);
  run.draw([[0.5, 0.90004, 520], [0.25, 0.5, 540.26]]);
  run.draw(Array.from({length: 1000}, (_, at): readonly [number, number, number] => [at / 1000, 0.5, 550 + at / 10]));
  run.act({does: 'symbol', symbol: '4'}, 700);
  const [first, second, ...more] = answers[0]!.strokes!;
  expect(first).toEqual([[0.5, 0.9, 20], [0.25, 0.5, 40.3]]);
  expect(second!.length).toBeLessThanOrEqual(250);
  expect(second!.at(-1)).toEqual([0.999, 0.5, 149.9]);
  expect(more).toEqual([]);
});
