import {expect, test} from 'vitest';

import {type Axis, fromPx, pathThrough, ticks, toPx} from './axis.ts';

const upwards: Axis = {from: 0, to: 0.9, fromPx: 300, toPx: 30};

test('values and pixels go there and back', () => {
  expect(toPx(upwards, 0.45)).toBeCloseTo(165);
  expect(fromPx(upwards, toPx(upwards, 0.123))).toBeCloseTo(0.123);
});

test('ticks are round and within', () => {
  expect(ticks(upwards, 5)).toEqual([0, 0.2, 0.4, 0.6, 0.8]);
  expect(ticks({from: 390, to: 730, fromPx: 0, toPx: 1}, 7)).toEqual([400, 450, 500, 550, 600, 650, 700]);
});

test('a path goes through its points', () => {
  expect(pathThrough([[0, 1], [2.04, 3]])).toBe('M0.0 1.0L2.0 3.0');
});
