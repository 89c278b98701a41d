import {expect, test} from 'vitest';

import {actionFor, keyFor, keyLabel} from './keys.ts';

const digits = ['1', '2', '4', '7'];
const gates = ['north gate', 'east gate', 'south gate', 'west gate'];

test('one-character symbols are their own keys', () => {
  expect(digits.map((symbol) => keyFor(symbol, digits))).toEqual(digits);
  expect(actionFor('4', digits)).toEqual({does: 'symbol', symbol: '4'});
  expect(actionFor('3', digits)).toBeNull();
});

test('longer symbols go by their place in the row', () => {
  expect(gates.map((symbol) => keyFor(symbol, gates))).toEqual(['1', '2', '3', '4']);
  expect(actionFor('3', gates)).toEqual({does: 'symbol', symbol: 'south gate'});
});

test('upright rings go by the arrows, turned ones by their place in the row', () => {
  const upright = ['up', 'right', 'down', 'left'];
  expect(upright.map((symbol) => keyFor(symbol, upright))).toEqual(['ArrowUp', 'ArrowRight', 'ArrowDown', 'ArrowLeft']);
  expect(actionFor('ArrowDown', upright)).toEqual({does: 'symbol', symbol: 'down'});
  expect(actionFor('1', upright)).toBeNull();
  expect(actionFor('ArrowDown', digits)).toBeNull();
  const turned = ['up left', 'up right', 'down right', 'down left'];
  expect(actionFor('3', turned)).toEqual({does: 'symbol', symbol: 'down right'});
  expect(actionFor('ArrowUp', turned)).toBeNull();
  expect(['ArrowUp', 'ArrowLeft', '4', 'Enter'].map(keyLabel)).toEqual(['↑', '←', '4', 'Enter']);
});

test('letters work with and without shift', () => {
  expect(actionFor('n', digits)).toEqual({does: 'no figure'});
  expect(actionFor('N', digits)).toEqual({does: 'no figure'});
  expect(actionFor('t', digits)).toEqual({does: 'toggle time'});
  expect(actionFor('Enter', digits)).toEqual({does: 'done'});
});

test('other keys ask for nothing', () => {
  expect(['Tab', 'Escape', ' ', 'F5', 'e'].map((key) => actionFor(key, digits))).toEqual([null, null, null, null, null]);
});
