import {expect, test} from 'vitest';

import type {OutcomePlate} from './wire.ts';
import {answeredText, asSentence, clockTimeText, designText, observerName, probabilityText, readsText, relativeText, signedText, timeText, verdictText} from './words.ts';

const plate: OutcomePlate = {
  item: 1, round: 'first', name: 'calm river', kind: 'vanishing', aim: '5nm', drawn: ['4'], answered: ['4'], end: 'answered',
  as_drawn: true, void: false, repeat: false, hesitated: false, first_symbols: null, line: null, flaw: null, predictions: [],
};

test('observers are named with their separation in nm', () => {
  expect(['normal', 'protan:0', 'deutan:10', 'tritan', 's-cone-monochromat', 'rod-monochromat'].map(observerName)).toEqual(
    ['normal', 'protan, 0 nm', 'deutan, 10 nm', 'tritan', 'S-cone monochromat', 'rod monochromat'],
  );
});

test('a probability short of certainty is never written as certainty', () => {
  expect([0, 0.0004, 0.004, 0.25, 0.9949, 0.9996, 1].map(probabilityText)).toEqual(
    ['0', '<.001', '.004', '.25', '.995', '>.999', '1'],
  );
});

test('relative support is a share, then odds, then a power of ten', () => {
  expect([1, 0.42, 0.004, 1e-5, 0].map(relativeText)).toEqual(['1', '.42', '1 in 250', '1 in 10⁵', '0']);
});

test('a late or missing answer is said, without a verdict', () => {
  expect(answeredText(plate)).toBe('4');
  expect(answeredText({...plate, answered: [], end: 'late'})).toBe('no figure, after the plate had gone');
  expect(answeredText({...plate, answered: [], end: 'expired'})).toBe('no answer in time');
  expect(answeredText({...plate, answered: ['2', '7']})).toBe('2 and 7');
  expect(answeredText({...plate, answered: ['down', 'up']})).toBe('gap down and gap up');
  expect(answeredText({...plate, answered: ['gate 3']})).toBe('gate 3');
  expect(['nothing', '4 and 7', 'left and up', 'gate 1'].map(readsText)).toEqual(['nothing', '4 and 7', 'gap left and gap up', 'gate 1']);
});

test('a design says whom it is aimed at', () => {
  expect(designText(plate)).toBe('vanishing plate, aimed at 5 nm');
  expect(designText({...plate, aim: 'dichromat'})).toBe('vanishing plate, aimed at 0 nm (dichromats)');
  expect(designText({...plate, kind: 'tritan', aim: null})).toBe('tritan plate');
});

test('sentences get their capital and their stop once', () => {
  expect(asSentence('see a practitioner')).toBe('See a practitioner.');
  expect(asSentence('Done.')).toBe('Done.');
  expect(asSentence('  ')).toBe('');
});

test('a time that is none is shown as it came', () => {
  expect(timeText('some day')).toBe('some day');
  expect(timeText('2026-11-25T09:07:03Z')).toMatch(/2026/);
});

test('what is followed as it happens has its seconds, and its day when it was another', () => {
  const then = '2026-11-25T12:07:03Z';
  expect(clockTimeText(then, new Date('2026-11-25T12:30:00Z'))).toMatch(/^\d\d:07:03$/);
  expect(clockTimeText(then, new Date('2026-11-29T12:30:00Z'))).toBe(timeText(then));
  expect(clockTimeText('some day', new Date(then))).toBe('some day');
});

test('a verdict says what fits best, or that it cannot tell', () => {
  expect(['normal', 'deutan', 'cannot tell'].map(verdictText)).toEqual(
    ['A normal observer fits best', 'A deutan observer fits best', 'Cannot tell'],
  );
});

test('a negative number has a minus, not a hyphen', () => {
  expect([signedText(-3.1), signedText(0.456)]).toEqual(['−3.10', '0.46']);
});
