import {expect, test} from 'vitest';

import {type At, gateReached} from './stroke.ts';

const row = ['gate 1', 'gate 2', 'gate 3', 'gate 4'];
const to = (...ends: At[]): At[] => [[0.5, 1], [0.5, 0.8], ...ends];

test('a stroke names the gate it ends at', () => {
  expect(gateReached(to([0.1, 0.7], [0.03, 0.31]), row)).toBe('gate 1');
  expect(gateReached(to([0.37, 0.02]), row)).toBe('gate 2');
  expect(gateReached(to([0.63, 0.0]), row)).toBe('gate 3');
  expect(gateReached(to([0.99, 0.33]), row)).toBe('gate 4');
});

test('a stroke that reaches no gate, or hardly moves, names none', () => {
  expect(gateReached([], row)).toBeNull();
  expect(gateReached(to([0.5, 0.5]), row)).toBeNull();
  expect(gateReached(to([0.5, 0.02]), row)).toBeNull();
  expect(gateReached([[0.03, 0.31], [0.04, 0.31]], row)).toBeNull();
  expect(gateReached(to([0.99, 0.33]), ['gate 1', 'gate 2'])).toBeNull();
});
