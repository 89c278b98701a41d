// Sets of plates on the shelf, spelt as docs/api.md spells them, with a decoder beside each type.

import {type Decoder, count, finite, flag, list, nullable, oneOf, record, text} from './decode.ts';

export type Purpose = 'practical' | 'ladder' | 'exhibits';
const purpose = oneOf('practical', 'ladder', 'exhibits');
export type Family = 'digits' | 'rings' | 'paths';
const family = oneOf('digits', 'rings', 'paths');

export interface SetWish {
  readonly purpose: Purpose;
  readonly display: string;
  /** A family, or digits one by one: 'digits:1,2,4,7'. */
  readonly symbols: string;
  readonly seed: number;
  readonly loan: string | null;
  /** How many, of a practical; null where the purpose has a number of its own. */
  readonly plates: number | null;
  /** Pebbles a plate is packed of. */
  readonly cells: number;
}

export interface ShelfSet extends SetWish {
  readonly symbols: Family;
  readonly set: string;
  readonly in_use: boolean;
  readonly plates: number;
}

export interface Making extends SetWish {
  readonly state: 'making' | 'made' | 'stopped' | 'failed';
  readonly done: number;
  readonly of: number;
  readonly set: string | null;
  readonly message: string | null;
  readonly remedy: string | null;
}

export interface Shelf {
  readonly sets: readonly ShelfSet[];
  readonly making: Making | null;
  readonly purposes: readonly Purpose[];
  readonly intended_use: string;
}

export interface ShelfReading {
  readonly observer: string;
  /** P(the first figure is read); `second` is null where there is none. */
  readonly first: number;
  readonly second: number | null;
  readonly margins: string;
}

export interface ShelfPlate {
  readonly name: string;
  readonly kind: string;
  readonly aim: string | null;
  readonly drawn: readonly string[];
  readonly basis: 'visibility' | 'salience';
  readonly rests_on: string;
  readonly readings: readonly ShelfReading[];
}

const wishFields = {purpose, display: text, symbols: text, seed: count, loan: nullable(text), cells: count};
export const making: Decoder<Making> = record<Making>({
  ...wishFields, plates: nullable(count), state: oneOf('making', 'made', 'stopped', 'failed'), done: count, of: count, set: nullable(text), message: nullable(text), remedy: nullable(text),
});
export const shelf: Decoder<Shelf> = record<Shelf>({
  sets: list(record<ShelfSet>({...wishFields, symbols: family, set: text, in_use: flag, plates: count})),
  making: nullable(making), purposes: list(purpose), intended_use: text,
});
export const shelfPlates = record<{plates: readonly ShelfPlate[]}>({
  plates: list(record<ShelfPlate>({
    name: text, kind: text, aim: nullable(text), drawn: list(text), basis: oneOf('visibility', 'salience'), rests_on: text,
    readings: list(record<ShelfReading>({observer: text, first: finite, second: nullable(finite), margins: text})),
  })),
});

export const PURPOSE_WORDS: {readonly [Of in Purpose]: string} = {
  practical: 'plates to be sat: openers, vanishing, fork and tritan plates',
  ladder: '7 fork plates of graded balance: which figure is clearer?',
  exhibits: '2 transformations and 2 hidden plates, to be looked at',
};
/** Bounds and usual values of what a practical's set may be; the program holds them too. */
export const PLATES = {fewest: 8, usual: 18, most: 30} as const;
export const CELLS = {fewest: 300, usual: 1000, most: 1300} as const;
export const FAMILY_WORDS: {readonly [Of in Family]: string} = {digits: 'digits', rings: 'notched rings', paths: 'gate paths'};

/** How long showing takes one person: every plate for `exposureS`, and about five seconds to answer (our guess). */
export function minutesWords(plates: number, exposureS: number): string {
  const minutes = Math.max(1, Math.round((plates * (exposureS + 5)) / 60));
  return `about ${minutes} ${minutes === 1 ? 'minute' : 'minutes'} a person at ${exposureS} s a plate`;
}

/** Two paths cannot lie in one field: purposes whose plates hold two figures have none. */
export function familiesFor(chosen: Purpose): readonly Family[] {
  return chosen === 'practical' ? ['digits', 'rings', 'paths'] : ['digits', 'rings'];
}

export function makingWords({state, done, of, message, remedy, set}: Making): string {
  switch (state) {
    case 'making':
      return of === 0 ? 'Preparing…' : `${done} of ${of} plates are made.`;
    case 'made':
      return `The set ${set ?? ''} is made.`;
    case 'stopped':
      return 'Stopped. Nothing was kept.';
    case 'failed':
      return `Not made: ${message ?? 'something went wrong'}${remedy === null ? '' : `; ${remedy}`}.`;
  }
}

export function kindWords({kind, aim, drawn}: ShelfPlate): string {
  return `${kind}${aim === null ? '' : `, aimed at ${aim}`}; drawn: ${drawn.join(' and ')}`;
}
