import {expect, test} from 'vitest';

import {type Course, introductionTo, loading, next} from './sitting.ts';
import type {Round, SittingState} from './wire.ts';

const round: Round = {
  name: 'first', place: 2, of: 4, figures: 1,
  items: [0, 1, 2].map((item) => ({item: item + 1, plate: String(item).repeat(32), answered: item === 0, repeat: false})),
};
const sitting: SittingState = {
  sitting: 'a'.repeat(32), practical: 'b'.repeat(32), practical_name: 'calm river', pseudonym: 'quiet harbour', on_loan: false, off_record: false, examined: false, eye: 'both', state: 'running', tell: 'later',
  size_px: 640, exposure_ms: 3000, grace_ms: 10_000, family: 'digits', symbols: ['1', '2', '4', '7'], answered: 1, round,
};
const arrive = (settled: readonly number[] = [], state: SittingState = sitting): Course =>
  next(loading, {what: 'arrived', sitting: state, settled: new Set(settled)});
const itemsLeft = (course: Course): readonly number[] => ('left' in course ? course.left.map((item) => item.item) : []);

test('a round begins with its introduction and only what is unanswered', () => {
  expect(arrive()).toMatchObject({at: 'introduction'});
  expect(itemsLeft(arrive())).toEqual([2, 3]);
});

test('items this page has already queued are not shown again', () => {
  expect(itemsLeft(arrive([2]))).toEqual([3]);
  expect(arrive([2, 3]).at).toBe('saving');
});

test('plate after plate, then saving', () => {
  const first = next(arrive(), {what: 'begun'});
  const second = next(first, {what: 'item settled', item: 2});
  expect([first.at, second.at, itemsLeft(second)]).toEqual(['plate', 'plate', [3]]);
  expect(next(second, {what: 'item settled', item: 3}).at).toBe('saving');
});

test('settling an item twice does not skip the next one', () => {
  const second = next(next(arrive(), {what: 'begun'}), {what: 'item settled', item: 2});
  expect(itemsLeft(next(second, {what: 'item settled', item: 2}))).toEqual([3]);
});

test('going on after a stop leads back to an introduction with what is left', () => {
  const stopped = next(next(arrive(), {what: 'begun'}), {what: 'asked to stop'});
  const settled = next(stopped, {what: 'item settled', item: 2});
  expect(settled.at).toBe('stopping');
  const onwards = next(settled, {what: 'going on'});
  expect([onwards.at, itemsLeft(onwards)]).toEqual(['introduction', [3]]);
});

test('stopping on the last plate of a round still asks before anything goes on', () => {
  const last = next(next(arrive([2]), {what: 'begun'}), {what: 'asked to stop'});
  const settled = next(last, {what: 'item settled', item: 3});
  expect(settled.at).toBe('stopping');
  expect(next(settled, {what: 'going on'}).at).toBe('saving');
});

test('an ended sitting is ended', () => {
  expect(arrive([], {...sitting, state: 'ended', round: null}).at).toBe('ended');
});

test('beginning outside an introduction changes nothing', () => {
  expect(next(loading, {what: 'begun'})).toBe(loading);
});

test('an introduction states number and time, and what Done does where two may be chosen', () => {
  expect(introductionTo(round, 11, 3000, 'digits').lines[0]).toBe('11 plates, each shown for 3 s. This takes about a minute.');
  expect(introductionTo(round, 1, 2500, 'digits').lines[0]).toBe('One plate, shown for 2.5 s. This takes less than a minute.');
  expect(introductionTo({...round, name: 'which-kind', figures: 2}, 4, 3000, 'digits').lines.join(' ')).toContain('press Done');
});

test('an introduction says what to look for: a symbol, a gap, a gate', () => {
  const task = (family: 'digits' | 'rings' | 'paths', figures: 1 | 2) => introductionTo({...round, figures}, 4, 3000, family).lines[1];
  expect(task('digits', 1)).toMatch(/^Look for a symbol .*“no figure for me”/);
  expect(task('rings', 1)).toMatch(/^Look for a ring .* where its gap is.*“no figure for me”/);
  expect(task('rings', 2)).toMatch(/two rings.*press Done/);
  expect(task('paths', 1)).toMatch(/gate at which it comes out.*“no figure for me”/);
});
