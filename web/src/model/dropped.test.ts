import {expect, test} from 'vitest';

import {droppedFrames} from './dropped.ts';

const steady = (count: number, every = 16.7) => Array.from({length: count}, (_, i) => 100 + i * every);

test('a steady screen drops nothing, whatever its rate and its little wavering', () => {
  expect(droppedFrames(steady(180))).toBe(0);
  expect(droppedFrames(steady(432, 6.94))).toBe(0);
  expect(droppedFrames(steady(60).map((time, i) => time + (i % 3) * 2))).toBe(0);
});

test('each frame that is missing is counted', () => {
  const times = steady(60);
  expect(droppedFrames(times.filter((_, i) => i !== 20))).toBe(1);
  expect(droppedFrames(times.filter((_, i) => i < 20 || i > 24))).toBe(5);
});

test('too few frames say nothing', () => {
  expect(droppedFrames([])).toBe(0);
  expect(droppedFrames([100, 900, 916])).toBe(0);
});
