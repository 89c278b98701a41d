import {expect, test} from 'vitest';

import {answerFrom, interruptedFrom, noChoice, toggle} from './answer.ts';
import {frame, interrupt, type Limits, type Over, respond, show} from './exposure.ts';

const limits: Limits = {exposureMs: 3000, graceMs: 10_000};
const about = {item: 4, hidden: false, pageLoad: 'a'.repeat(32)};

test('choosing again takes back, and a third choice takes nothing away', () => {
  const one = toggle(noChoice, '7', 2, 100);
  const two = toggle(one, '2', 2, 200);
  expect(two.symbols).toEqual(['7', '2']);
  expect(toggle(two, '4', 2, 300)).toBe(two);
  expect(toggle(two, '7', 2, 400)).toEqual({symbols: ['2'], changedMs: 400});
});

test('an answer carries its symbols in ascending order and the raw times', () => {
  const choice = {symbols: ['7', '2'], changedMs: 1500};
  expect(answerFrom(respond(show(1000, limits), 2000) as Over, choice, limits, about)).toEqual({
    item: 4, symbols: ['2', '7'], end: 'answered', onset_ms: 1000, response_ms: 2000, shown_ms: 1000, frames: 1,
    hidden: false, page_load: 'a'.repeat(32),
  });
});

test('an expiry without a choice carries no symbols and no response', () => {
  expect(answerFrom(frame(show(0, limits), 20_000) as Over, noChoice, limits, about)).toMatchObject({
    symbols: [], end: 'expired', response_ms: null,
  });
});

test('an expiry with a standing choice is an answer at the time of that choice', () => {
  const choice = toggle(noChoice, '4', 2, 3500);
  expect(answerFrom(frame(show(0, limits), 20_000) as Over, choice, limits, about)).toMatchObject({
    symbols: ['4'], end: 'late', response_ms: 3500,
  });
});

test('a choice taken back before time ran out is no choice', () => {
  const choice = toggle(toggle(noChoice, '4', 2, 500), '4', 2, 900);
  expect(answerFrom(frame(show(0, limits), 20_000) as Over, choice, limits, about)).toMatchObject({
    symbols: [], end: 'expired', response_ms: null,
  });
});

test('an interrupted item carries nothing that was chosen', () => {
  const choice = toggle(noChoice, '4', 2, 500);
  expect(answerFrom(interrupt(show(0, limits), 900) as Over, choice, limits, about)).toMatchObject({
    symbols: [], end: 'interrupted', response_ms: null,
  });
});

test('an item left open by another page load keeps its answer id and its clock', () => {
  const open = {
    answer: 'b'.repeat(32), item: 3, onset_ms: 500.5, shown_ms: 700, frames: 42, hidden: true, page_load: 'c'.repeat(32),
  };
  expect(interruptedFrom(open)).toEqual({
    id: 'b'.repeat(32),
    body: {
      item: 3, symbols: [], end: 'interrupted', onset_ms: 500.5, response_ms: null, shown_ms: 700, frames: 42,
      hidden: true, page_load: 'c'.repeat(32),
    },
  });
});
