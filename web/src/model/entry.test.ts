import {describe, expect, it} from 'vitest';

import {entered, type Entry, isEntered, noEntry, withEntry} from './entry.ts';
import type {PlateAction} from './keys.ts';
import type {AnswerBody} from './wire.ts';

const after = (figures: 1 | 2, ...actions: readonly PlateAction[]): Entry =>
  actions.reduce((entry, action) => entered(entry, action, figures), noEntry);
const symbol = (name: string): PlateAction => ({does: 'symbol', symbol: name});
const body: AnswerBody = {
  item: 3, symbols: [], end: 'late', onset_ms: 1000, response_ms: 9000, shown_ms: 3000, frames: 180, hidden: false, page_load: 'a'.repeat(32),
};

describe('an entry', () => {
  it('with one figure is the last word, with two at most two', () => {
    expect(after(1, symbol('2'), symbol('7')).symbols).toEqual(['7']);
    expect(after(2, symbol('2'), symbol('7'), symbol('4')).symbols).toEqual(['2', '7']);
    expect(after(2, symbol('2'), symbol('2')).symbols).toEqual([]);
  });
  it('is there once something was said, be it that there is no figure', () => {
    expect(isEntered(noEntry)).toBe(false);
    expect(isEntered(after(1, {does: 'no figure'}))).toBe(true);
    expect(isEntered(after(1, {does: 'no figure'}, {does: 'no figure'}))).toBe(false);
    expect(after(1, {does: 'no figure'}, symbol('4'))).toMatchObject({none: false, symbols: ['4']});
  });
  it('keeps the very first word however often it is corrected', () => {
    const entry = after(1, symbol('2'), {does: 'corrected'}, symbol('7'), {does: 'corrected'}, symbol('4'));
    expect(entry).toMatchObject({first: ['2'], symbols: ['4']});
    expect(after(1, {does: 'corrected'}).first).toBe(null);
  });
});

describe('the answer of an entry', () => {
  it('is late because the examiner says so, not because writing took long', () => {
    expect(withEntry(body, after(1, symbol('4'))).end).toBe('answered');
    expect(withEntry(body, after(1, symbol('4'), {does: 'late'})).end).toBe('late');
  });
  it('says what was noted and nothing else', () => {
    expect(withEntry(body, after(1, symbol('4')))).not.toHaveProperty('hesitated');
    const marked = withEntry(body, after(2, {does: 'no figure'}, {does: 'corrected'}, symbol('7'), symbol('2'), {does: 'hesitated'}));
    expect(marked).toMatchObject({symbols: ['2', '7'], first_symbols: [], hesitated: true});
  });
  it('is no correction when the first word comes back', () => {
    expect(withEntry(body, after(1, symbol('4'), {does: 'corrected'}, symbol('4')))).not.toHaveProperty('first_symbols');
  });
  it('stays as it is where nobody answered', () => {
    const expired: AnswerBody = {...body, end: 'expired', response_ms: null};
    expect(withEntry(expired, after(1, symbol('4')))).toBe(expired);
  });
});
