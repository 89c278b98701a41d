import {expect, test} from 'vitest';

import {gridStep, onGrid, toGrid} from './pixel-grid.ts';

test.each([[1, 1], [2, 1], [1.5, 2], [1.25, 4], [1.1, 10], [1.3333333, 3], [0.9, 10]])('at a ratio of %d the grid has %d CSS px', (ratio, step) => {
  expect(gridStep(ratio)).toBe(step);
});

test('sizes and places are whole in both units', () => {
  expect(onGrid(639, 1.25)).toEqual({cssPx: 636, pixels: 795});
  expect(onGrid(640, 1.1)).toEqual({cssPx: 640, pixels: 704});
  expect(387.1875 + toGrid(387.1875, 1.25)).toBe(388);
  expect(toGrid(388, 1.25)).toBe(0);
  expect(toGrid(12.4, 1)).toBeCloseTo(0.6);
});
