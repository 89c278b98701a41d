import {expect, test} from 'vitest';

import {gapDegrees, questionFor, rowOf, symbolName} from './symbols.ts';

const upright = ['down', 'left', 'right', 'up'];
const turned = ['down left', 'down right', 'up left', 'up right'];
const gates = ['gate 1', 'gate 2', 'gate 3', 'gate 4'];

test('rings stand where they point, digits and gates as they came', () => {
  expect(rowOf('rings', upright)).toEqual(['up', 'down', 'left', 'right']);
  expect(rowOf('rings', turned)).toEqual(['up left', 'up right', 'down left', 'down right']);
  expect(rowOf('digits', ['1', '4', '6', '9'])).toEqual(['1', '4', '6', '9']);
  expect(rowOf('paths', gates)).toEqual(gates);
  expect(upright).toEqual(['down', 'left', 'right', 'up']);
});

test('gaps of a row are a quarter turn apart', () => {
  for (const row of [rowOf('rings', upright), rowOf('rings', turned)]) {
    const degrees = row.map((symbol) => gapDegrees(symbol)!).sort((a, b) => a - b);
    const steps = degrees.map((from, at) => (degrees[(at + 1) % 4]! - from + 360) % 360);
    expect(steps).toEqual([90, 90, 90, 90]);
  }
  expect(gapDegrees('4')).toBeNull();
  expect(gapDegrees('gate 1')).toBeNull();
});

test('symbols are said as what they are', () => {
  expect(['4', 'up', 'down left', 'gate 2'].map(symbolName)).toEqual(['4', 'gap up', 'gap down left', 'gate 2']);
});

test('each family has a question of its own', () => {
  expect(new Set((['digits', 'rings', 'paths'] as const).map(questionFor)).size).toBe(3);
});
