import {expect, test} from 'vitest';

import {BLACK_STEPS, isLit, patches, raster} from './patterns.ts';

const pixel = (codes: Uint8ClampedArray, widthPx: number, x: number, y: number) => Array.from(codes.slice(4 * (y * widthPx + x), 4 * (y * widthPx + x) + 4));

test.each([0.25, 0.5, 0.75] as const)('a share of %d is that share of lines', (share) => {
  const rows = Array.from({length: 400}, (_, row) => isLit(row, share));
  expect(rows.filter(Boolean).length / rows.length).toBe(share);
});

test('a raster is full on and off in its channel alone, around a field of its code', () => {
  const codes = raster(40, 40, 'g', 0.5, 186);
  expect([pixel(codes, 40, 3, 0), pixel(codes, 40, 3, 1), pixel(codes, 40, 3, 2)]).toEqual([[0, 255, 0, 255], [0, 0, 0, 255], [0, 255, 0, 255]]);
  for (const y of [15, 16, 17]) expect(pixel(codes, 40, 20, y)).toEqual([0, 186, 0, 255]);
});

test('each patch stands in its own place on the ground', () => {
  const codes = patches(320, 20, 0, BLACK_STEPS);
  expect(BLACK_STEPS.map((_, at) => pixel(codes, 320, 40 * at + 20, 10)[0])).toEqual(BLACK_STEPS);
  expect([pixel(codes, 320, 40, 10), pixel(codes, 320, 20, 1)]).toEqual([[0, 0, 0, 255], [0, 0, 0, 255]]);
});
