import {expect, test} from 'vitest';

import {colourSpaceFrom, pictureFrom, viewErrorFrom} from './picture.ts';

test('codes arrive unchanged and opaque', () => {
  const picture = pictureFrom(Uint8Array.from({length: 12}, (_, index) => index * 20));
  expect(picture?.sizePx).toBe(2);
  expect(Array.from(picture?.codes ?? [])).toEqual(
    [0, 20, 40, 255, 60, 80, 100, 255, 120, 140, 160, 255, 180, 200, 220, 255],
  );
});

test('bytes that are no square picture, or one of another size, are refused', () => {
  expect(pictureFrom(new Uint8Array(13))).toBeNull();
  expect(pictureFrom(new Uint8Array(0))).toBeNull();
  expect(pictureFrom(new Uint8Array(12), 3)).toBeNull();
});

test('the error of a view is three numbers or nothing', () => {
  expect(viewErrorFrom('0.11 0.256 0.5')).toEqual({mean: 0.11, p95: 0.256, largest: 0.5});
  for (const header of [null, '', '0.1 0.2', '0.1 0.2 0.3 0.4', '0.1 0.2 x', '0.1 0.2 -1', '0.1  0.3', 'NaN 1 2']) {
    expect(viewErrorFrom(header)).toBeNull();
  }
});

test('codes are read as sRGB unless the program says otherwise', () => {
  expect(colourSpaceFrom('display-p3')).toBe('display-p3');
  expect(colourSpaceFrom(null)).toBe('srgb');
  expect(colourSpaceFrom('rec2020')).toBe('srgb');
  expect(pictureFrom(new Uint8Array(12))).toMatchObject({colourSpace: 'srgb'});
});
