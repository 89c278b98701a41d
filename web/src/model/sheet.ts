// The sheet of an examined sitting, a rota of examiners, and sheets without names that a class judges.

import {count, type Decoder, finite, flag, id, list, nullable, oneOf, record, text} from './decode.ts';
import {type End, eyeName, type EyeName, type RoundName} from './wire.ts';
import {symbolsText} from './words.ts';

export interface SheetRow {
  readonly item: number;
  readonly round: RoundName;
  readonly plate: string;
  readonly end: End;
  readonly entered: readonly string[];
  readonly first_symbols: readonly string[] | null;
  readonly hesitated: boolean;
  readonly seconds: number | null;
  readonly void: string | null;
  readonly repeats: number | null;
  /** Only once it has ended, and where the person wants to know. */
  readonly drawn: readonly string[] | null;
}

export interface SignOff {
  readonly done: readonly string[];
  readonly examiner: string;
  readonly supervisor: string;
  readonly remark: string;
}

export interface Sheet {
  readonly sitting: string;
  readonly practical: string;
  readonly practical_name: string;
  readonly pseudonym: string;
  readonly eye: EyeName;
  readonly state: 'running' | 'ended';
  readonly shows_drawn: boolean;
  readonly rows: readonly SheetRow[];
  readonly points: readonly {readonly name: string; readonly words: string}[];
  readonly sign_off: (SignOff & {readonly signed_utc: string}) | null;
  readonly other_eyes: readonly {readonly sitting: string; readonly eye: EyeName}[];
  readonly intended_use: string;
  readonly whom_to_see: string;
}

export const sheet: Decoder<Sheet> = record<Sheet>({
  sitting: id, practical: id, practical_name: text, pseudonym: text, eye: eyeName, state: oneOf('running', 'ended'), shows_drawn: flag,
  rows: list(record<SheetRow>({
    item: count, round: oneOf('warm-up', 'first', 'which-kind', 'blue-yellow', 'again'), plate: text,
    end: oneOf('answered', 'late', 'expired', 'interrupted'), entered: list(text), first_symbols: nullable(list(text)), hesitated: flag,
    seconds: nullable(finite), void: nullable(text), repeats: nullable(count), drawn: nullable(list(text)),
  })),
  points: list(record({name: text, words: text})),
  sign_off: nullable(record<SignOff & {signed_utc: string}>({done: list(text), examiner: text, supervisor: text, remark: text, signed_utc: text})),
  other_eyes: list(record<{sitting: string; eye: EyeName}>({sitting: id, eye: eyeName})), intended_use: text, whom_to_see: text,
});

/** What was entered, in words. */
export function readingText({symbols, end}: {readonly symbols: readonly string[]; readonly end: End}): string {
  if (end === 'expired') return 'nothing in time';
  if (end === 'interrupted') return 'interrupted';
  return symbolsText(symbols, 'no figure') + (end === 'late' ? ', late' : '');
}

/** What was noted beside a reading. */
export function marksText(row: SheetRow): string {
  const marks = [];
  if (row.hesitated) marks.push('hesitated');
  if (row.first_symbols !== null) marks.push(`first said: ${symbolsText(row.first_symbols, 'no figure')}`);
  if (row.void !== null) marks.push(`void: ${row.void}`);
  if (row.repeats !== null) marks.push('repeat of a void reading');
  return marks.join('; ');
}

export interface RotaPlace {
  readonly station: number;
  readonly sits: number;
  readonly examines: number;
}
export const rota = record<{turns: readonly (readonly RotaPlace[])[]}>({
  turns: list(list(record<RotaPlace>({station: count, sits: count, examines: count}))),
});

export const KINDS = ['normal', 'protan', 'deutan', 'tritan'] as const;
export type Kind = (typeof KINDS)[number];

/** An answer sheet without a name. */
export interface BlindSheet {
  readonly sheet: number;
  readonly rows: readonly {readonly plate: string; readonly drawn: readonly string[]; readonly read: readonly string[]; readonly void: boolean}[];
  readonly rating: number | null;
  readonly kind: Kind | null;
}
export interface BlindSheets {
  readonly sheets: readonly BlindSheet[];
  readonly intended_use: string;
}
export const blindSheets: Decoder<BlindSheets> = record<BlindSheets>({
  sheets: list(record<BlindSheet>({
    sheet: count, rows: list(record<BlindSheet['rows'][number]>({plate: text, drawn: list(text), read: list(text), void: flag})),
    rating: nullable(count), kind: nullable(oneOf(...KINDS)),
  })),
  intended_use: text,
});

export interface BlindResult {
  readonly raters: number;
  readonly sheets: number;
  readonly ratings: number;
  readonly with: number;
  readonly without: number;
  readonly points: readonly {readonly from: number; readonly hits: number; readonly false_alarms: number}[];
  readonly area: number | null;
  readonly error: number | null;
  readonly computed_area: number | null;
  readonly computed_error: number | null;
  readonly kinds_right: number;
  readonly kinds_of: number;
  readonly computed_right: number;
}
export const blindResult: Decoder<BlindResult> = record<BlindResult>({
  raters: count, sheets: count, ratings: count, with: count, without: count,
  points: list(record<BlindResult['points'][number]>({from: count, hits: finite, false_alarms: finite})), area: nullable(finite), error: nullable(finite),
  computed_area: nullable(finite), computed_error: nullable(finite), kinds_right: count, kinds_of: count, computed_right: count,
});
