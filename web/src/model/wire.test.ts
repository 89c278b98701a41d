import {expect, test} from 'vitest';

import {errorBody, outcome, sittingState} from './wire.ts';

const caution = {intended_use: 'teaching', whom_to_see: 'a practitioner'};
const told = {
  told: true, lent: null, interpretable: true, caution, verdict: 'cannot tell', summary: 's',
  evidence: [{observer: 'normal', log10_likelihood: -3.1, relative: 1}],
  kinds: [{kind: 'normal', evidence_only: 0.4, prior: 0.95, posterior: 0.9}],
  separation: {protan: [{separation_nm: 0, probability: 0.1}], deutan: []}, prior_text: 'p', assumptions: ['a'],
  plates: [{
    item: 3, round: 'first', name: 'calm river', kind: 'vanishing', aim: null, drawn: ['4'], answered: [], end: 'late', as_drawn: false,
    void: false, repeat: true, hesitated: true, first_symbols: ['7'],
    line: {followed: 'gate 2', how: 'followed in part', mean: 0.02, off_path: 0.1, completeness: 0.8, pen_lifts: 1, total_ms: 2300}, flaw: 'dropped frames',
    predictions: [{observer: 'protan:0', reads: 'nothing', intended: 0.01, second: null, nothing: 0.97, other: 0.02, margins: 'm'}],
  }],
  again: [{item: 19, name: 'calm river', drawn: ['4'], before: [], now: ['4'], agree: false}],
};

test('an outcome that is not told carries the caution and the choice, and nothing else gets through', () => {
  expect(outcome({told: false, can_choose: true, waits: false, caution, verdict: 'protan'}, 'reply')).toEqual({told: false, can_choose: true, waits: false, caution});
});

test('an outcome that is told is read whole', () => {
  expect(outcome(told, 'reply')).toEqual(told);
});

test('a number that is none is named with its place', () => {
  const broken = {...told, evidence: [{observer: 'normal', log10_likelihood: null, relative: 1}]};
  expect(() => outcome(broken, 'reply')).toThrow('reply.evidence[0].log10_likelihood should be a finite number');
});

test('a round may be null, another number of figures may not', () => {
  const id = '0'.repeat(32);
  const state = {
    sitting: id, practical: id, practical_name: 'x', pseudonym: 'quiet harbour', on_loan: false, off_record: false, made_for: 'srgb/oled', state: 'running', tell: 'later', size_px: 640, exposure_ms: 3000, grace_ms: 10_000,
    family: 'digits', symbols: ['1'], answered: 0, round: null,
  };
  expect(sittingState(state, 'reply').round).toBeNull();
  const three = {name: 'first', place: 1, of: 4, figures: 3, items: []};
  expect(() => sittingState({...state, round: three}, 'reply')).toThrow('reply.round.figures should be one of 1, 2');
});

test('an error has all five words', () => {
  expect(() => errorBody({error: {code: 'gone', thing: 't', place: 'p', message: 'm'}}, 'reply')).toThrow('reply.error.remedy');
});
