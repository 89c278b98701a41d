import {expect, test} from 'vitest';

import {audit, auditWords, sizeFrom, takenPicture, thinned} from './looks.ts';

const spread = {mean: 0.104, p95: 0.21, max: 0.52};
const good = {reduced_de00: spread, floor_de00: {...spread, mean: 0.09}, share_out_of_range: 0.1, pixels: 9, claim: 'whether'};

test('replies are read, and anything else refused', () => {
  expect(audit(good, 'reply').reduced_de00.p95).toBe(0.21);
  expect(() => audit({...good, floor_de00: {mean: 1}}, 'reply')).toThrow();
  expect(() => takenPicture({picture: 'x'}, 'reply')).toThrow();
  expect(auditWords(audit(good, 'reply'))).toBe('error 0.10 on average, 0.21 at the 95th percentile, 0.5 at most (reduced CIEDE2000; rounding alone 0.09)');
});

test('a size is believed only when it fits the bytes', () => {
  expect(sizeFrom('4 2', 24, 3)).toEqual({width: 4, height: 2});
  for (const header of [null, '', '4', '4 2 1', '4 3', '-4 -2', '4.5 2', 'a b']) expect(sizeFrom(header, 24, 3)).toBeNull();
});

test('a strip’s pictures leave out whole pixels', () => {
  const rgb = Uint8Array.from({length: 3 * 5 * 3}, (_, i) => i);
  const small = thinned({width: 5, height: 3, rgb, colourSpace: 'srgb'}, 3);
  expect([small.width, small.height]).toEqual([3, 2]);
  expect(Array.from(small.rgb.subarray(0, 6))).toEqual([0, 1, 2, 6, 7, 8]);
  expect(Array.from(small.rgb.subarray(9, 12))).toEqual([30, 31, 32]);
});
