import {expect, test} from 'vitest';

import {type FourPoints, type Point, projectiveMap, within} from './projective.ts';

/** CIE 15:2018, u' = 4x / (−2x + 12y + 3), v' = 9y / (−2x + 12y + 3): an independent check of the map through four points. */
const uv = ([x, y]: Point): Point => [(4 * x) / (3 - 2 * x + 12 * y), (9 * y) / (3 - 2 * x + 12 * y)];
/** IEC 61966-2-1: the primaries and the white of sRGB. */
const srgb: FourPoints = [[0.64, 0.33], [0.3, 0.6], [0.15, 0.06], [0.3127, 0.329]];
const inUv: FourPoints = [uv(srgb[0]), uv(srgb[1]), uv(srgb[2]), uv(srgb[3])];

test.each<[Point]>([[[0.4, 0.4]], [[0.2, 0.7]], [[0.1, 0.05]]])('%o lands where the formula puts it, and comes back', (point) => {
  const there = projectiveMap(srgb, inUv)(point);
  const [u, v] = uv(point);
  expect(there[0]).toBeCloseTo(u, 10);
  expect(there[1]).toBeCloseTo(v, 10);
  const back = projectiveMap(inUv, srgb)(there);
  expect(back[0]).toBeCloseTo(point[0], 10);
  expect(back[1]).toBeCloseTo(point[1], 10);
});

test('within an outline, and not', () => {
  const outline: readonly Point[] = [[0, 0], [1, 0], [1, 1], [0.5, 0.2], [0, 1]];
  expect([within(outline, [0.2, 0.2]), within(outline, [0.5, 0.6]), within(outline, [2, 0.5])]).toEqual([true, false, false]);
});
