import {describe, expect, test} from 'vitest';

import {clockText, nextWords, phoneShow, placeWords, stepFor, tallyWords, wallPx} from './show.ts';

describe('a show', () => {
  test('goes on and back by keys, and never beyond its ends', () => {
    for (const key of ['ArrowRight', 'PageDown', ' ', 'Enter']) expect(stepFor(key, 0, 54)).toBe(1);
    for (const key of ['ArrowLeft', 'PageUp', 'Backspace']) expect(stepFor(key, 2, 54)).toBe(1);
    expect(stepFor('ArrowRight', 54, 54)).toBeNull();
    expect(stepFor('ArrowLeft', 0, 54)).toBeNull();
    expect(stepFor('a', 3, 54)).toBeNull();
  });
  test('says where it is and what comes next', () => {
    const at = {place: 1, of: 18, over: false} as const;
    expect(placeWords({...at, phase: 'blank'})).toBe('Plate 2 of 18 comes next; the wall is blank.');
    expect(placeWords({...at, phase: 'plate'})).toContain('answers are open');
    expect(nextWords({phase: 'plate', over: false})).toBe('Reveal');
    expect(placeWords({...at, phase: 'blank', over: true})).toBe('The end: the wall is blank.');
  });
  test('tells how many answered before it is revealed, and how many as drawn after', () => {
    expect(tallyWords({answered: 1, told: false, as_drawn: null, cells: []})).toBe('1 phone has answered.');
    expect(tallyWords({answered: 13, told: true, as_drawn: {of: 13, as_drawn: 8, nearly: null}, cells: []})).toBe('13 phones have answered; as drawn: 8 of 13.');
    expect(tallyWords({answered: 0, told: true, as_drawn: {of: 0, as_drawn: null, nearly: 'too few to say'}, cells: []})).toBe('0 phones have answered.');
  });
  test('knows no more of a plate on a phone than its row', () => {
    const read = phoneShow({show: {id: 'a'.repeat(32), place: 0, of: 18, open: true, symbols: ['1', '4'], family: 'digits', figures: 1, mine: null}, words: 'counted'}, 'reply');
    expect(read.show?.symbols).toEqual(['1', '4']);
    expect(() => phoneShow({show: {id: 'x'}, words: ''}, 'reply')).toThrow('reply.show.id');
  });
});

test('times and sizes', () => {
  expect(clockText(7900)).toBe('0:07');
  expect(clockText(125_000)).toBe('2:05');
  expect(wallPx(1920, 1080, 1)).toBe(960);
  expect(wallPx(3840, 2160, 2)).toBe(1600);
  expect(wallPx(100, 100, 1)).toBe(200);
});
