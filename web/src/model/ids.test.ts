// @vitest-environment happy-dom
import {expect, test} from 'vitest';

import {randomId} from './ids.ts';

test('every byte gives two digits, small ones too', () => {
  expect(randomId((bytes) => bytes.set([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 254, 255]))).toBe(
    '000102030405060708090a0b0c0dfeff',
  );
});

test('a thousand ids from the browser\'s source are all different', () => {
  const ids = new Set(Array.from({length: 1000}, () => randomId((bytes) => crypto.getRandomValues(bytes))));
  expect(ids.size).toBe(1000);
});
