import {expect, test} from 'vitest';

import {remembered, updatesPerSecond} from './rate.ts';

const every = (ms: number, count: number) => Array.from({length: count}, (_, at) => at * ms);

test('an update every 20 ms is 50 a second, however long it went on', () => {
  expect(updatesPerSecond(every(20, 11))).toBeCloseTo(50);
  expect(updatesPerSecond(every(20, 500))).toBeCloseTo(50);
});

test('only the last second counts', () => {
  expect(updatesPerSecond([...every(500, 10), ...every(25, 41).map((time) => 5000 + time)])).toBeCloseTo(40);
});

test('too little says nothing', () => {
  expect(updatesPerSecond([])).toBeNull();
  expect(updatesPerSecond([1, 50])).toBeNull();
});

test('what is older than a second is let go', () => {
  expect(remembered([0, 500, 900], 1400)).toEqual([500, 900, 1400]);
});
