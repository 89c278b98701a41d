import {expect, test} from 'vitest';

import {currentRecord, displayRecord, statusWords, whatEnds} from './display-record.ts';

const asked = {display: 'srgb/oled', device_pixel_ratio: 1, screen_px: [1920, 1080], screen_at: [0, 0], colour_depth: 24, gamut: 'srgb', card_px: null};
const record = {
  record: '0123456789abcdef0123456789abcdef', made_utc: '2026-11-25T09:00:00Z', expires_utc: '2026-12-25T09:00:00Z', valid: true, ended: null,
  status: 'assumed', words: 'Assumed sRGB; tone curve checked by eye', pixels_per_mm: 3.78, tone: {r: {gamma: 2.2, rms_codes: 1.3}, b: null},
  findings: [{what: 'size', state: 'fine', words: 'Known.'}], asked, intended_use: 'for teaching',
};

test('a record is read, with channels that were not matched', () => {
  expect(displayRecord(record, 'reply')).toMatchObject({tone: {r: {gamma: 2.2}, g: null, b: null}, asked: {screen_px: [1920, 1080]}});
  expect(currentRecord({current: null}, 'reply')).toEqual({current: null});
});

test.each([
  [{...record, ended: 'bored'}, 'reply.ended should be one of'],
  [{...record, asked: {...asked, screen_px: [1]}}, 'reply.asked.screen_px should be 2 numbers'],
  [{...record, findings: [{what: 'size', state: 'good', words: ''}]}, 'reply.findings[0].state should be one of fine, note, mend'],
])('a complaint names the place %#', (value, complaint) => {
  expect(() => displayRecord(value, 'reply')).toThrow(complaint);
});

test('the words say what is assumed, what ended and where it was checked', () => {
  const read = displayRecord(record, 'reply');
  expect(statusWords(null, false)).toBe('assumed, not checked.');
  expect(statusWords(read, true)).toBe('Assumed sRGB; tone curve checked by eye.');
  expect(statusWords(read, false)).toContain('in another browser');
  expect(statusWords({...read, valid: false, ended: 'zoom'}, true)).toBe('assumed. A check of it was made, but it ended when the page was zoomed.');
  expect(whatEnds(read)).toMatch(/^It holds until 25 Dec 2026/);
});
