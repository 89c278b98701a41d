import {expect, test} from 'vitest';

import {endReason, type Surroundings} from './surroundings.ts';

const then: Surroundings = {device_pixel_ratio: 1.25, screen_px: [1536, 864], screen_at: [0, 0], colour_depth: 24, gamut: 'srgb'};

test.each<[string, Partial<Surroundings>, ReturnType<typeof endReason>]>([
  ['nothing changed', {}, null],
  ['a ratio rounded otherwise', {device_pixel_ratio: 1.2500001}, null],
  ['zoomed; the screen is stated as before', {device_pixel_ratio: 1.375}, 'zoom'],
  ['zoomed; the screen is stated in zoomed pixels', {device_pixel_ratio: 2.5, screen_px: [768, 432]}, 'zoom'],
  ['on the screen beside it', {screen_at: [1536, 0]}, 'moved'],
  ['on a finer screen beside it', {screen_at: [1536, 0], device_pixel_ratio: 2, screen_px: [1280, 720]}, 'moved'],
  ['another resolution', {screen_px: [1280, 720]}, 'mode'],
  ['another colour depth', {colour_depth: 30}, 'mode'],
  ['another gamut', {gamut: 'p3'}, 'mode'],
])('%s', (_, change, reason) => {
  expect(endReason(then, {...then, ...change})).toBe(reason);
});

test('zooming on a screen that does not begin at nought is no move', () => {
  const beside: Surroundings = {...then, device_pixel_ratio: 1, screen_px: [1920, 1080], screen_at: [1920, 0]};
  expect(endReason(beside, {...beside, device_pixel_ratio: 2, screen_px: [960, 540], screen_at: [960, 0]})).toBe('zoom');
});
