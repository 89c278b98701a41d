import {expect, test} from 'vitest';

import {frameStatistics} from './frames.ts';

const even = Array.from({length: 121}, (_, at) => (1000 * at) / 60);

test('60 even frames a second', () => {
  expect(frameStatistics(even)).toEqual({refreshHz: 60, spreadMs: 0, dropped: 0});
});

test('frames that did not come are counted, and do not count as spread', () => {
  expect(frameStatistics(even.filter((_, at) => at !== 30 && at !== 70 && at !== 71))).toEqual({refreshHz: 60, spreadMs: 0, dropped: 3});
});

test('unevenness is a spread', () => {
  const uneven = even.map((time, at) => time + (at % 2 === 0 ? 0 : 0.5));
  expect(frameStatistics(uneven)?.spreadMs).toBeCloseTo(1, 1);
});

test('too few say nothing', () => {
  expect(frameStatistics(even.slice(0, 5))).toBeNull();
});
