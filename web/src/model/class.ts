// A practical as whoever runs it sees it: its card, who is where, and afterwards what the class read.

import {count, type Decoder, finite, flag, id, list, nullable, oneOf, record, text, Unreadable} from './decode.ts';
import type {PracticalState} from './wire.ts';

export interface CardPlate {
  readonly name: string;
  readonly kind: string;
  readonly drawn: readonly string[];
  /** Not of the which-kind round, which comes after misses only. */
  readonly for_everybody: boolean;
  readonly of_class: number;
  readonly by_observer: ReadonlyMap<string, number>;
}

/** What is frozen when a practical opens. */
export interface Card {
  readonly made_utc: string;
  readonly men: number;
  readonly women: number;
  readonly misses: number;
  readonly first_round: number;
  readonly expected_deficient: number;
  readonly expected_hits: number;
  readonly expected_false_alarms: number;
  readonly plates: readonly CardPlate[];
}

export interface DrawnLoan {
  readonly observer: string;
  readonly ready: boolean;
  readonly left_out: readonly string[];
  readonly refusal: string | null;
}

export interface RunPractical {
  readonly id: string;
  readonly name: string;
  readonly state: PracticalState;
  readonly exposure_ms: number;
  readonly plates: number;
  readonly sittings: number;
  readonly loans_drawn: readonly DrawnLoan[];
  readonly opened_utc: string | null;
  readonly closed_utc: string | null;
  readonly card: Card | null;
  readonly card_sha256: string | null;
  readonly card_is_as_sealed: boolean;
  readonly intended_use: string;
}

const shares: Decoder<ReadonlyMap<string, number>> = (value, place) => {
  if (typeof value !== 'object' || value === null) throw new Unreadable(place, 'shares by observer');
  return new Map(Object.entries(value).map(([name, share]) => [name, finite(share, `${place}.${name}`)]));
};
const card = record<Card>({
  made_utc: text, men: count, women: count, misses: count, first_round: count, expected_deficient: finite, expected_hits: finite,
  expected_false_alarms: finite,
  plates: list(record<CardPlate>({name: text, kind: text, drawn: list(text), for_everybody: flag, of_class: finite, by_observer: shares})),
});

export const runPractical: Decoder<RunPractical> = record<RunPractical>({
  id, name: text, state: oneOf('preparing', 'open', 'closed'), exposure_ms: finite, plates: count, sittings: count,
  loans_drawn: list(record<DrawnLoan>({observer: text, ready: flag, left_out: list(text), refusal: nullable(text)})),
  opened_utc: nullable(text), closed_utc: nullable(text), card: nullable(card), card_sha256: nullable(text), card_is_as_sealed: flag,
  intended_use: text,
});

export interface Watched {
  readonly pseudonym: string;
  readonly stage: 'begun' | 'first round' | 'later rounds' | 'ended';
  readonly answered: number;
  readonly of: number;
  readonly last_heard_utc: string;
}

export const watched = record<{sittings: readonly Watched[]}>({
  sittings: list(record<Watched>({
    pseudonym: text, stage: oneOf('begun', 'first round', 'later rounds', 'ended'), answered: count, of: count, last_heard_utc: text,
  })),
});

/** So many of so many read a plate as drawn; `nearly` instead where a number could point to somebody. */
export interface ReadShare {
  /** Null where there are too few to say. */
  readonly of: number | null;
  readonly as_drawn: number | null;
  readonly nearly: string | null;
}

export interface Score {
  readonly answers: number;
  readonly bits: number;
  readonly expected_bits: number;
  readonly bins: readonly {readonly from: number; readonly to: number; readonly predicted: number; readonly read: ReadShare}[];
}

export interface Roc {
  readonly with: number;
  readonly without: number;
  readonly points: readonly {readonly misses: number; readonly hits: number; readonly false_alarms: number}[];
  readonly area: number;
  readonly error: number;
}

export interface ClassDebrief {
  readonly own: number;
  readonly on_loan: number;
  readonly meet_rule: ReadShare;
  readonly plates: readonly {
    readonly name: string;
    readonly kind: string;
    readonly drawn: readonly string[];
    readonly predicted: number;
    readonly own: ReadShare;
    readonly loans: readonly {readonly observer: string; readonly predicted: number; readonly read: ReadShare}[];
  }[];
  readonly own_score: Score;
  readonly loan_score: Score;
  readonly loans: readonly {
    readonly observer: string;
    readonly sittings: number;
    readonly meet_rule: number;
    readonly verdicts: ReadonlyMap<string, number>;
  }[];
  readonly roc: Roc | null;
  readonly card_was_sealed: boolean;
  readonly card_is_as_sealed: boolean;
  readonly intended_use: string;
  readonly whom_to_see: string;
}

export const readShare = record<ReadShare>({of: nullable(count), as_drawn: nullable(count), nearly: nullable(text)});
const score = record<Score>({
  answers: count, bits: finite, expected_bits: finite,
  bins: list(record<Score['bins'][number]>({from: finite, to: finite, predicted: finite, read: readShare})),
});
export const classDebrief: Decoder<ClassDebrief> = record<ClassDebrief>({
  own: count, on_loan: count, meet_rule: readShare,
  plates: list(record<ClassDebrief['plates'][number]>({
    name: text, kind: text, drawn: list(text), predicted: finite, own: readShare,
    loans: list(record<ClassDebrief['plates'][number]['loans'][number]>({observer: text, predicted: finite, read: readShare})),
  })),
  own_score: score, loan_score: score,
  loans: list(record<ClassDebrief['loans'][number]>({observer: text, sittings: count, meet_rule: count, verdicts: shares})),
  roc: nullable(record<Roc>({
    with: count, without: count, area: finite, error: finite,
    points: list(record<Roc['points'][number]>({misses: count, hits: finite, false_alarms: finite})),
  })),
  card_was_sealed: flag, card_is_as_sealed: flag, intended_use: text, whom_to_see: text,
});

/** What stands for a number of very few people. */
const TOO_FEW = 'too few to say';

/** "With own eyes the rule was met by 7 of 24", or that it cannot be said. */
export function ruleWords(met: ReadShare): string {
  return met.nearly === TOO_FEW ? 'With own eyes there are too few to say how many met the rule.' : `With own eyes the rule was met by ${readWords(met)}.`;
}

/** "17 of 24", or what stands for it. */
export function readWords({of, as_drawn: read, nearly}: ReadShare): string {
  if (of === 0) return 'nobody';
  if (of === null) return nearly ?? TOO_FEW;
  return read !== null ? `${read} of ${of}` : `${nearly ?? ''} (of ${of})`;
}

/** The length of a bar; null where no number is said. */
export function barOf({of, as_drawn: read}: ReadShare): number | null {
  return read === null || of === null ? null : read / of;
}

/** "with this rule expect 6 false alarms and 2 true ones among these 120". */
export function expectationWords(card: Card): string {
  const people = card.men + card.women;
  const rule = card.misses === 1 ? 'one miss or more' : `${card.misses} misses or more`;
  return `With the rule “${rule} in the first round” expect ${aFew(card.expected_false_alarms)} false alarms and ${aFew(card.expected_hits)} true ones among these ${people}; about ${aFew(card.expected_deficient)} have a red–green deficiency.`;
}

function aFew(people: number): string {
  return people < 0.05 ? 'almost no' : Number(people.toFixed(1)).toString();
}
