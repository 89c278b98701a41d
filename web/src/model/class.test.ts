import {expect, test} from 'vitest';

import {barOf, type Card, expectationWords, readWords, ruleWords, runPractical, watched} from './class.ts';

const card = {
  made_utc: '2030', men: 12, women: 18, misses: 3, first_round: 10, expected_deficient: 1.032, expected_hits: 0.91, expected_false_alarms: 0.02,
  plates: [{name: 'calm river', kind: 'vanishing', drawn: ['4'], for_everybody: true, of_class: 0.93, by_observer: {normal: 0.97, 'protan:0': 0.02}}],
};
const good = {
  id: 'a'.repeat(32), name: 'Tuesday', state: 'open', exposure_ms: 3000, plates: 18, sittings: 0,
  loans_drawn: [{observer: 'protan:0', ready: true, left_out: [], refusal: null}],
  opened_utc: '2030', closed_utc: null, card, card_sha256: 'b'.repeat(64), card_is_as_sealed: true, intended_use: 'teaching',
};

test('a practical and its card are read, and shares by observer keep their names', () => {
  const read = runPractical(good, 'reply');
  expect(read.card?.plates[0]?.by_observer.get('protan:0')).toBe(0.02);
  expect(() => runPractical({...good, state: 'paused'}, 'reply')).toThrow('reply.state');
  expect(() => runPractical({...good, card: {...card, plates: [{...card.plates[0], by_observer: {normal: 'x'}}]}}, 'reply')).toThrow('by_observer.normal');
});

test('who is where comes without any word on how well', () => {
  const one = {pseudonym: 'quiet harbour', stage: 'first round', answered: 3, of: 12, last_heard_utc: '2030'};
  expect(watched({sittings: [one]}, 'reply').sittings[0]?.answered).toBe(3);
  expect(() => watched({sittings: [{...one, stage: 'which-kind'}]}, 'reply')).toThrow();
});

test('shares are words and bars, and what is hidden stays hidden', () => {
  expect(readWords({of: 24, as_drawn: 17, nearly: null})).toBe('17 of 24');
  expect(readWords({of: 24, as_drawn: null, nearly: 'fewer than 5'})).toBe('fewer than 5 (of 24)');
  expect(readWords({of: null, as_drawn: null, nearly: 'too few to say'}), 'nor how few there are').toBe('too few to say');
  expect(ruleWords({of: null, as_drawn: null, nearly: 'too few to say'})).toBe('With own eyes there are too few to say how many met the rule.');
  expect(ruleWords({of: 24, as_drawn: 7, nearly: null})).toBe('With own eyes the rule was met by 7 of 24.');
  expect(barOf({of: 24, as_drawn: 18, nearly: null})).toBe(0.75);
  expect(barOf({of: null, as_drawn: null, nearly: 'too few to say'})).toBeNull();
});

test('what to expect is said before opening', () => {
  expect(expectationWords(runPractical(good, 'reply').card as Card)).toBe(
    'With the rule “3 misses or more in the first round” expect almost no false alarms and 0.9 true ones among these 30; about 1 have a red–green deficiency.');
});
