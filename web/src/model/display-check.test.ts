import {expect, test} from 'vitest';

import {afterZoom, cardWithin, checkFrom, type Found, foundWords, nothingFound, STEPS, TONE_TASKS, withMatch} from './display-check.ts';

const around = {device_pixel_ratio: 1.25, screen_px: [1536, 864] as const, screen_at: [0, 0] as const, colour_depth: 24, gamut: 'srgb' as const};
const some: Found = {...nothingFound, cardPx: 330.5, toneMatches: [{channel: 'g', share: 0.5, code: 186}], frames: {refreshHz: 59.94, spreadMs: 0.4, dropped: 1}};

test('what was not done is said so, and sent as null', () => {
  expect(STEPS.slice(0, -1).map((step) => foundWords(step, nothingFound))).toEqual(Array(7).fill('not done'));
  expect(checkFrom(nothingFound, 'srgb/oled', around)).toEqual({
    display: 'srgb/oled', card_px: null, ...around, tone_matches: [], black_step: null, white_step: null, neutral: null, night_mode_off: false, adapted: false,
    room_light: null, statement: '', refresh_hz: null, frame_spread_ms: null, dropped_frames: null,
  });
});

test('what was found is sent as found', () => {
  expect(checkFrom({...some, statement: `  ${'x'.repeat(300)}`}, 'srgb/oled', around)).toMatchObject({
    card_px: 330.5, tone_matches: [{channel: 'g', share: 0.5, code: 186}], refresh_hz: 59.94, dropped_frames: 1, statement: 'x'.repeat(200),
  });
});

test('each channel is compared at each share once, and a second match takes the place of the first', () => {
  expect(new Set(TONE_TASKS.map(({channel, share}) => `${channel}${share}`)).size).toBe(9);
  const twice = withMatch(some, {channel: 'g', share: 0.5, code: 190});
  expect(twice.toneMatches).toEqual([{channel: 'g', share: 0.5, code: 190}]);
  expect(withMatch(some, {channel: 'g', share: 0.25, code: 137}).toneMatches).toHaveLength(2);
});

test('a change of zoom undoes what was measured in pixels, and nothing else', () => {
  expect(afterZoom(some)).toEqual({...some, cardPx: null, toneMatches: []});
});

test('the outline moves in half pixels within its limits', () => {
  expect([cardWithin(323.3), cardWithin(20), cardWithin(5000)]).toEqual([323.5, 150, 900]);
});
