// Plates shown to a room: what the presenter, the projector and the phones get.

import {type ReadShare, readShare, readWords} from './class.ts';
import {count, type Decoder, finite, flag, id, list, nullable, oneOf, record, text} from './decode.ts';
import {probabilityText} from './words.ts';
import type {Family} from './wire.ts';

export type ShowPhase = 'blank' | 'plate' | 'revealed';
const phase = oneOf('blank', 'plate', 'revealed');

export interface Expected {
  readonly observer: string;
  readonly first: number;
  readonly second: number | null;
  readonly margins: string;
}

export interface Tally {
  readonly answered: number;
  readonly told: boolean;
  readonly as_drawn: ReadShare | null;
  readonly cells: readonly {readonly answer: string; readonly count: number | null}[];
}

export interface Show {
  readonly show: string;
  readonly set: string;
  readonly display: string;
  readonly step: number;
  readonly steps: number;
  readonly place: number;
  readonly of: number;
  readonly phase: ShowPhase;
  readonly over: boolean;
  readonly on_for_ms: number | null;
  readonly plate: {readonly name: string; readonly kind: string; readonly drawn: readonly string[]; readonly rests_on: string};
  readonly expected: readonly Expected[] | null;
  readonly tally: Tally;
  readonly words: string;
  readonly intended_use: string;
}

export const show: Decoder<Show> = record<Show>({
  show: id, set: text, display: text, step: count, steps: count, place: count, of: count, phase, over: flag, on_for_ms: nullable(finite),
  plate: record<Show['plate']>({name: text, kind: text, drawn: list(text), rests_on: text}),
  expected: nullable(list(record<Expected>({observer: text, first: finite, second: nullable(finite), margins: text}))),
  tally: record<Tally>({
    answered: count, told: flag, as_drawn: nullable(readShare), cells: list(record<Tally['cells'][number]>({answer: text, count: nullable(count)})),
  }),
  words: text, intended_use: text,
});

/** What the window on the projector needs, and no more. */
export interface Projected {
  readonly place: number;
  readonly phase: ShowPhase;
  readonly begun: boolean;
  readonly words: string;
}
export const projected: Decoder<Projected> = record<Projected>({place: count, phase, begun: flag, words: text});

/** What a phone may know of the plate on the wall. */
export interface PhoneShow {
  readonly id: string;
  readonly place: number;
  readonly of: number;
  readonly open: boolean;
  readonly symbols: readonly string[];
  readonly family: Family;
  readonly figures: 1 | 2;
  readonly mine: readonly string[] | null;
}
export const phoneShow: Decoder<{readonly show: PhoneShow | null; readonly words: string}> = record({
  show: nullable(record<PhoneShow>({
    id, place: count, of: count, open: flag, symbols: list(text), family: oneOf('digits', 'rings', 'paths'), figures: oneOf(1, 2), mine: nullable(list(text)),
  })),
  words: text,
});

/** Where a key of the presenter leads; null where it leads nowhere. Clickers send PageUp and PageDown. */
export function stepFor(key: string, step: number, steps: number): number | null {
  switch (key) {
    case 'ArrowRight': case 'PageDown': case ' ': case 'Enter':
      return step < steps ? step + 1 : null;
    case 'ArrowLeft': case 'PageUp': case 'Backspace':
      return step > 0 ? step - 1 : null;
    default:
      return null;
  }
}

/** "Plate 2 of 18, on the wall": its number is the one of the answer sheet. */
export function placeWords({place, of, phase: now, over}: Pick<Show, 'place' | 'of' | 'phase' | 'over'>): string {
  if (over) return 'The end: the wall is blank.';
  const number = `Plate ${place + 1} of ${of}`;
  return now === 'blank' ? `${number} comes next; the wall is blank.` : now === 'plate' ? `${number} is on the wall; answers are open.` : `${number} is on the wall and revealed.`;
}

/** What the next step does. */
export function nextWords({phase: now, over}: Pick<Show, 'phase' | 'over'>): string {
  return over ? 'It is over' : now === 'blank' ? 'Show the plate' : now === 'plate' ? 'Reveal' : 'Blank';
}

export function tallyWords({answered, told, as_drawn: asDrawn}: Tally): string {
  const people = answered === 1 ? '1 phone has answered' : `${answered} phones have answered`;
  if (!told || asDrawn === null || answered === 0) return `${people}.`;
  return `${people}; as drawn: ${readWords(asDrawn)}.`;
}

export function cellWords(number: number | null): string {
  return number === null ? 'not told' : String(number);
}

/** "first .97" or "first .97, second .03". */
export function expectedWords({first, second}: Expected): string {
  return second === null ? probabilityText(first) : `first ${probabilityText(first)}, second ${probabilityText(second)}`;
}

/** Seconds as a clock shows them: "0:07", "2:05". */
export function clockText(ms: number): string {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

/** Side of a plate in device pixels for a window: nine tenths of the shorter side, in steps, so that few are drawn. */
export function wallPx(widthPx: number, heightPx: number, pixelRatio: number): number {
  const room = 0.9 * Math.min(widthPx, heightPx) * pixelRatio;
  return Math.min(1600, Math.max(200, 40 * Math.floor(room / 40)));
}
