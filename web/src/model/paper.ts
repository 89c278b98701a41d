// Answer sheets of paper: what can be ticked, what was typed in, and what the program makes of it.

import {count, type Decoder, finite, flag, list, nullable, oneOf, record, text} from './decode.ts';

export interface PaperRow {
  readonly number: number;
  readonly name: string;
  readonly kind: string;
  readonly symbols: readonly string[];
  /** How many rows of boxes the sheet has for it. */
  readonly figures: 1 | 2;
}
export const answerRows = record<{plates: readonly PaperRow[]; intended_use: string}>({
  plates: list(record<PaperRow>({number: count, name: text, kind: text, symbols: list(text), figures: oneOf(1, 2)})), intended_use: text,
});

export const EYES = ['', 'both', 'right', 'left'] as const;
export type PaperEye = (typeof EYES)[number];

/** A tick in a row of boxes: a symbol, or NO_FIGURE; null where there is none. */
export type Tick = string | null;
export const NO_FIGURE = 'none';

export interface TypedSheet {
  readonly pseudonym: string;
  readonly eye: PaperEye;
  /** Of each plate, of each of its rows. */
  readonly ticks: readonly (readonly Tick[])[];
}

export function emptySheet(rows: readonly PaperRow[]): TypedSheet {
  return {pseudonym: '', eye: '', ticks: rows.map(({figures}) => Array.from({length: figures}, () => null))};
}

export function ticked(sheet: TypedSheet, plate: number, row: number, tick: Tick): TypedSheet {
  return {...sheet, ticks: sheet.ticks.map((rows, p) => (p === plate ? rows.map((one, r) => (r === row ? tick : one)) : rows))};
}

/** Why a sheet cannot be added yet; null when it can. */
export function lackOf(sheet: TypedSheet, others: readonly TypedSheet[]): string | null {
  const pseudonym = sheet.pseudonym.trim();
  if (pseudonym === '') return 'Give the sheet its pseudonym.';
  if (sheet.ticks.every((rows) => rows.every((tick) => tick === null))) return 'Nothing is ticked yet.';
  if (others.some((one) => one.pseudonym.trim() === pseudonym && one.eye === sheet.eye)) return `There is a sheet of ${pseudonym} for this eye already.`;
  return null;
}

function quoted(field: string): string {
  return /[",\r\n]/.test(field) ? `"${field.replaceAll('"', '""')}"` : field;
}

/** Empty where nothing was ticked: the plate was not shown. A tick in one of two rows says that the other held nothing. */
function readingOf(ticks: readonly Tick[]): string {
  const given = ticks.filter((tick) => tick !== null);
  if (given.length === 0) return '';
  const symbols = [...new Set(given.filter((tick) => tick !== NO_FIGURE))];
  return symbols.length === 0 ? NO_FIGURE : symbols.join('+');
}

/** The table that `copunctal score` reads, a row a sheet. */
export function csvOf(rows: readonly PaperRow[], sheets: readonly TypedSheet[]): string {
  const head = ['pseudonym', 'eye', ...rows.map(({number}) => String(number))];
  const lines = sheets.map(({pseudonym, eye, ticks}) => [pseudonym.trim(), eye, ...ticks.map(readingOf)]);
  return [head, ...lines].map((line) => `${line.map(quoted).join(',')}\n`).join('');
}

/** Sheets that were kept while the page is open; null for anything else, as after a set was changed. */
export function keptSheets(kept: string | null, rows: readonly PaperRow[]): readonly TypedSheet[] | null {
  if (kept === null) return null;
  try {
    const sheets = list(record<TypedSheet>({pseudonym: text, eye: oneOf(...EYES), ticks: list(list(nullable(text)))}))(JSON.parse(kept), 'kept');
    const fits = ({ticks}: TypedSheet) =>
      ticks.length === rows.length &&
      ticks.every((of, p) => of.length === rows[p]!.figures && of.every((tick) => tick === null || tick === NO_FIGURE || rows[p]!.symbols.includes(tick)));
    return sheets.every(fits) ? sheets : null;
  } catch {
    return null;
  }
}

export interface PaperMisses {
  readonly missed: number;
  readonly shown: number;
}
export interface PaperPerson {
  readonly pseudonym: string;
  readonly eye: string | null;
  readonly interpretable: boolean;
  readonly verdict: string;
  readonly summary: string;
  readonly kinds: readonly {readonly kind: string; readonly evidence_only: number; readonly prior: number; readonly posterior: number}[];
  readonly misses: {readonly vanishing: PaperMisses; readonly blue_yellow: PaperMisses};
  readonly median_seconds: number | null;
  readonly plates: readonly {readonly name: string; readonly kind: string; readonly drawn: readonly string[]; readonly read: readonly string[]; readonly as_drawn: boolean}[];
  readonly notes: readonly string[];
  readonly caution: string;
}
export interface PaperScores {
  readonly display: string;
  readonly people: readonly PaperPerson[];
  readonly prior: string;
  readonly assumptions: readonly string[];
  readonly intended_use: string;
  readonly whom_to_see: string;
}

const misses: Decoder<PaperMisses> = record<PaperMisses>({missed: count, shown: count});
export const paperScores: Decoder<PaperScores> = record<PaperScores>({
  display: text,
  people: list(record<PaperPerson>({
    pseudonym: text, eye: nullable(text), interpretable: flag, verdict: text, summary: text,
    kinds: list(record<PaperPerson['kinds'][number]>({kind: text, evidence_only: finite, prior: finite, posterior: finite})),
    misses: record<PaperPerson['misses']>({vanishing: misses, blue_yellow: misses}), median_seconds: nullable(finite),
    plates: list(record<PaperPerson['plates'][number]>({name: text, kind: text, drawn: list(text), read: list(text), as_drawn: flag})),
    notes: list(text), caution: text,
  })),
  prior: text, assumptions: list(text), intended_use: text, whom_to_see: text,
});

/** "8 of 10 vanishing plates and 2 of 2 blue–yellow plates were read as drawn." */
export function readAsDrawnWords({vanishing, blue_yellow: blueYellow}: PaperPerson['misses']): string {
  const parts = [
    ...(vanishing.shown > 0 ? [`${vanishing.shown - vanishing.missed} of ${vanishing.shown} vanishing plates`] : []),
    ...(blueYellow.shown > 0 ? [`${blueYellow.shown - blueYellow.missed} of ${blueYellow.shown} blue–yellow plates`] : []),
  ];
  return parts.length === 0 ? 'No plate that counts was shown.' : `Read as drawn: ${parts.join(', ')}.`;
}
