import {describe, expect, test} from 'vitest';

import {CODES_PX, codesToDraw, compareCodes} from './preflight.ts';

describe('codes drawn and read back', () => {
  test('hold every code of every channel', () => {
    const drawn = codesToDraw();
    for (const channel of [0, 1, 2]) {
      expect(new Set(drawn.filter((_, at) => at % 4 === channel)).size).toBe(256);
    }
    expect(drawn.filter((_, at) => at % 4 === 3).every((opacity) => opacity === 255)).toBe(true);
  });
  test('are told apart from those that noise has moved', () => {
    const drawn = codesToDraw();
    const all = 3 * CODES_PX * CODES_PX;
    expect(compareCodes(drawn, drawn)).toEqual({checked: all, wrong: 0, largest: 0});
    const noisy = drawn.slice();
    noisy[4] = drawn[4]! + 1;
    noisy[9] = drawn[9]! - 2;
    noisy[11] = 254;
    expect(compareCodes(drawn, noisy)).toEqual({checked: all, wrong: 2, largest: 2});
    expect(compareCodes(drawn, [])).toEqual({checked: all, wrong: all, largest: 255});
  });
});
