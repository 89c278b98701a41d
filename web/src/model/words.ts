// Numbers and names as the pages say them.

import {symbolName} from './symbols.ts';
import type {DrawnLine,Caution, End, OutcomePlate, Practical} from './wire.ts';

/** Said wherever no practical is at hand to say it; identical everywhere in Copunctal. */
export const INTENDED_USE =
  'For teaching and demonstration in a supervised practical; not for diagnosis, screening, employment or fitness decisions.';

/** The intended use as the server states it, or our own copy where there is no practical yet. */
export function intendedUse(practicals: readonly Practical[]): string {
  return practicals[0]?.intended_use ?? INTENDED_USE;
}

export function cautionText(caution: Caution): readonly string[] {
  return [caution.intended_use, caution.whom_to_see].map(asSentence).filter((line) => line !== '');
}

/** Capital first, full stop last. */
export function asSentence(words: string): string {
  const trimmed = words.trim();
  if (trimmed === '') return '';
  const capital = trimmed.charAt(0).toUpperCase() + trimmed.slice(1);
  return /[.!?]$/.test(capital) ? capital : `${capital}.`;
}

/** "protan:5" → "protan, 5 nm"; "normal" stays. */
export function observerName(observer: string): string {
  const [kind, separation] = observer.split(':');
  const name = asWords(kind ?? observer);
  return separation === undefined ? name : `${name}, ${separation.replace(/,/g, ', ')} nm`;
}

/** Names of files and fields as words: "s-cone-monochromat" → "S-cone monochromat". */
function asWords(name: string): string {
  return name.replace(/^s-cone-/, 'S-cone ').replace(/-/g, (dash, at: number) => (name.startsWith('s-cone') && at < 7 ? dash : ' '));
}

/** A probability: two digits in the middle, and never rounded to certainty. */
export function probabilityText(probability: number): string {
  if (probability <= 0) return '0';
  if (probability >= 1) return '1';
  if (probability < 0.001) return '<.001';
  if (probability < 0.01) return probability.toFixed(3).replace(/^0/, '');
  if (probability > 0.99) return probability > 0.999 ? '>.999' : probability.toFixed(3).replace(/^0/, '');
  return probability.toFixed(2).replace(/^0/, '');
}

/** A likelihood relative to the best one: "1", ".42", "1 in 250", "1 in 10^5". */
export function relativeText(relative: number): string {
  if (relative >= 0.995) return '1';
  if (relative >= 0.01) return relative.toFixed(2).replace(/^0/, '');
  if (relative <= 0) return '0';
  const against = 1 / relative;
  if (against < 10_000) return `1 in ${Number(against.toPrecision(2)).toLocaleString('en-GB')}`;
  return `1 in 10${superscript(Math.round(Math.log10(against)))}`;
}

function superscript(number: number): string {
  return Array.from(String(number), (digit) => '⁰¹²³⁴⁵⁶⁷⁸⁹'.charAt(Number(digit))).join('');
}

/** A number with two digits and a true minus sign. */
export function signedText(number: number): string {
  return number.toFixed(2).replace('-', '−');
}

/** Which observers fit best, as a short sentence; anything but a kind stands as it came ("cannot tell"). */
export function verdictText(verdict: string): string {
  switch (verdict) {
    case 'normal':
      return 'A normal observer fits best';
    case 'protan':
    case 'deutan':
    case 'tritan':
      return `A ${verdict} observer fits best`;
    default:
      return asSentence(verdict).slice(0, -1);
  }
}

/** "4", "4 and 7", "gap up", or `none` when there are none. */
export function symbolsText(symbols: readonly string[], none: string): string {
  return symbols.length === 0 ? none : symbols.map(symbolName).join(' and ');
}

/** A predicted reading, as the server words it, with symbols said as what they are: "up and left" → "gap up and gap left". */
export function readsText(reads: string): string {
  return reads.split(' and ').map(symbolName).join(' and ');
}

/** A drawn line beside the way on the plate. */
export function lineText(line: DrawnLine): string {
  const share = (part: number) => `${(100 * part).toFixed(0)} %`;
  const strayed = `${share(line.completeness)} of the way drawn over, ${share(line.off_path)} of the line off it, ${(100 * line.mean).toFixed(1)} % of the field's side astray on average`;
  const whither = line.followed === null ? '' : ` It follows the way to ${line.followed}.`;
  return `Line: the way was ${line.how}; ${strayed}, in ${(line.total_ms / 1000).toFixed(1)} s with ${line.pen_lifts === 1 ? 'one lift' : `${line.pen_lifts} lifts`} of the pen.${whither}`;
}

/** What was answered to a plate, in words. */
export function answeredText(plate: OutcomePlate): string {
  if (plate.void) return 'void, not weighed';
  const answer = symbolsText(plate.answered, 'no figure');
  const words: {readonly [Of in End]: string} = {
    answered: answer,
    late: `${answer}, after the plate had gone`,
    expired: 'no answer in time',
    interrupted: 'interrupted, not weighed',
  };
  return words[plate.end];
}

/** The design of a plate in the trade's words, and whom it is aimed at. */
export function designText(plate: OutcomePlate): string {
  const kinds: {readonly [kind: string]: string} = {
    opener: 'opener: a demonstration plate, drawn for everybody to read',
    fork: 'fork plate: two symbols, each lost to another kind of eye',
    tritan: 'tritan plate',
  };
  const kind = kinds[plate.kind] ?? `${plate.kind} plate`;
  if (plate.aim === null || plate.aim === '') return kind;
  const aim = plate.aim === 'dichromat' ? '0 nm (dichromats)' : plate.aim.replace(/^(\d+)nm$/, '$1 nm');
  return `${kind}, aimed at ${aim}`;
}

/** "25 Nov 2026, 09:07" in the reader's time zone; the text itself where it is no time. */
export function timeText(utc: string): string {
  const time = new Date(utc);
  if (Number.isNaN(time.getTime())) return utc;
  return time.toLocaleString('en-GB', {day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit'});
}

/** "09:07:03" of today, else as `timeText`: for what is followed as it happens. */
export function clockTimeText(utc: string, now: Date): string {
  const time = new Date(utc);
  if (Number.isNaN(time.getTime()) || time.toDateString() !== now.toDateString()) return timeText(utc);
  return time.toLocaleTimeString('en-GB', {hour: '2-digit', minute: '2-digit', second: '2-digit'});
}

export function countText(count: number, one: string, many: string): string {
  return `${count.toLocaleString('en-GB')} ${count === 1 ? one : many}`;
}

/** An error of a view in just noticeable differences: two decimals below 1, one above. */
export function viewErrorText(value: number): string {
  return value < 0.995 ? value.toFixed(2) : value.toFixed(1);
}

export function inSentence(words: string): string {
  return words.replace(/^./, (first) => first.toLowerCase());
}
