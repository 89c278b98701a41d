import {expect, test} from 'vitest';

import {familiesFor, kindWords, making, makingWords, minutesWords, shelf} from './shelf.ts';

const wish = {purpose: 'practical', display: 'srgb/oled', symbols: 'digits', seed: 7, loan: null, plates: 18, cells: 1000} as const;

test('what comes from the program is read, and anything else refused', () => {
  const good = {
    sets: [{...wish, set: 'practical-srgb-oled-7', in_use: true, plates: 18}], making: null, purposes: ['practical', 'ladder'], intended_use: 'teaching',
  };
  expect(shelf(good, 'reply').sets[0]).toMatchObject({set: 'practical-srgb-oled-7', in_use: true});
  expect(() => shelf({...good, purposes: ['screening']}, 'reply')).toThrow();
  expect(() => making({...wish, state: 'burning', done: 0, of: 0, set: null, message: null, remedy: null}, 'reply')).toThrow();
});

test('the state of the making is said in words', () => {
  const at = {...wish, done: 3, of: 18, set: null, message: null, remedy: null};
  expect(makingWords({...at, state: 'making'})).toBe('3 of 18 plates are made.');
  expect(makingWords({...at, state: 'making', of: 0})).toBe('Preparing…');
  expect(makingWords({...at, state: 'stopped'})).toMatch(/Nothing was kept/);
  expect(makingWords({...at, state: 'failed', message: 'best found is 0.52', remedy: 'use another display'})).toBe('Not made: best found is 0.52; use another display.');
});

test('time, families and kinds', () => {
  expect(minutesWords(18, 3)).toBe('about 2 minutes a person at 3 s a plate');
  expect(minutesWords(4, 3)).toBe('about 1 minute a person at 3 s a plate');
  expect(familiesFor('ladder')).not.toContain('paths');
  expect(familiesFor('practical')).toContain('paths');
  expect(kindWords({name: 'calm river', kind: 'fork', aim: 'dichromat', drawn: ['4', '7'], basis: 'visibility', rests_on: '', readings: []}))
    .toBe('fork, aimed at dichromat; drawn: 4 and 7');
});
