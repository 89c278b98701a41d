// What the program says of one eye on one display, spelt as docs/api.md spells it, with a decoder beside each type.

import {type Decoder, finite, flag, list, nullable, oneOf, record, text, Unreadable} from './decode.ts';
import {type FourPoints, type Point, projectiveMap} from './projective.ts';

export type DisplayStatus = 'assumed' | 'profile' | 'measured';
export const displayStatus = oneOf('assumed', 'profile', 'measured');

export interface DisplayEntry {
  readonly name: string;
  readonly status: DisplayStatus;
  readonly words: string;
}

export const displays = record<{displays: readonly DisplayEntry[]}>({
  displays: list(record<DisplayEntry>({name: text, status: displayStatus, words: text})),
});

export type DichromatKind = 'protan' | 'deutan' | 'tritan';
const dichromatKind = oneOf('protan', 'deutan', 'tritan');

/** One value per wavelength of `Eye.nm`, each peak 1. */
export interface Curves {
  readonly l: readonly number[];
  readonly m: readonly number[];
  readonly s: readonly number[];
}

export interface ConfusionLine {
  readonly kind: DichromatKind;
  /** Whether this observer confuses along it. */
  readonly own: boolean;
  readonly points: readonly [Point, Point];
  readonly angle_deg: number;
}

export interface CopunctalPoint {
  readonly kind: DichromatKind;
  /** Null where it lies at infinity. */
  readonly point: Point | null;
  /** Whether it lies within the drawn range. */
  readonly inside: boolean;
}

export interface Diagram {
  readonly name: DiagramName;
  readonly axes: readonly [string, string];
  readonly range: readonly [Point, Point];
  /** Wavelength in nm and its place. */
  readonly locus: readonly (readonly [number, number, number])[];
  readonly triangle: readonly [Point, Point, Point];
  readonly white: Point;
  readonly at: Point;
  readonly lines: readonly ConfusionLine[];
  readonly copunctal: readonly CopunctalPoint[];
}

export type DiagramName = 'xy' | "u'v'" | 'macleod-boynton';

export interface Rayleigh {
  /** 0 all green, 1 all red. */
  readonly x: number;
  readonly y: number;
  readonly range: Point;
  readonly quotient: number | null;
  readonly normal: {readonly x: number; readonly y: number};
  readonly words: string;
}

export interface Eye {
  readonly observer: string;
  readonly kind: string;
  readonly separation_nm: number;
  readonly s_density: number;
  readonly age: number;
  readonly field: number;
  readonly density: {readonly l: number; readonly m: number; readonly s: number};
  readonly display: string;
  readonly display_status: DisplayStatus;
  readonly display_words: string;
  readonly notes: readonly string[];
  readonly nm: readonly number[];
  readonly curves: Curves;
  readonly normal: Curves;
  readonly peaks_nm: {readonly l: number | null; readonly m: number | null; readonly s: number | null};
  readonly diagrams: readonly Diagram[];
  readonly neutral_nm: {readonly display_white: number | null; readonly d65: number | null};
  readonly rayleigh: Rayleigh;
  readonly intended_use: string;
}

/** Exactly `count` finite numbers. */
function numbers(count: number): Decoder<readonly number[]> {
  return (value, place) => {
    const found = list(finite)(value, place);
    if (found.length !== count) throw new Unreadable(place, `${count} numbers`);
    return found;
  };
}

const point: Decoder<Point> = (value, place) => {
  const [x, y] = numbers(2)(value, place);
  return [x!, y!];
};
const twoPoints: Decoder<readonly [Point, Point]> = (value, place) => {
  const found = list(point)(value, place);
  if (found.length !== 2) throw new Unreadable(place, 'two points');
  return [found[0]!, found[1]!];
};
const triangle: Decoder<readonly [Point, Point, Point]> = (value, place) => {
  const found = list(point)(value, place);
  if (found.length !== 3) throw new Unreadable(place, 'three points');
  return [found[0]!, found[1]!, found[2]!];
};
const locusPlace: Decoder<readonly [number, number, number]> = (value, place) => {
  const [nm, x, y] = numbers(3)(value, place);
  return [nm!, x!, y!];
};
const axes: Decoder<readonly [string, string]> = (value, place) => {
  const found = list(text)(value, place);
  if (found.length !== 2) throw new Unreadable(place, 'two names');
  return [found[0]!, found[1]!];
};

const diagram = record<Diagram>({
  name: oneOf('xy', "u'v'", 'macleod-boynton'), axes, range: twoPoints, locus: list(locusPlace), triangle, white: point, at: point,
  lines: list(record<ConfusionLine>({kind: dichromatKind, own: flag, points: twoPoints, angle_deg: finite})),
  copunctal: list(record<CopunctalPoint>({kind: dichromatKind, point: nullable(point), inside: flag})),
});

const curves = record<Curves>({l: list(finite), m: list(finite), s: list(finite)});
const shape = record<Eye>({
  observer: text, kind: text, separation_nm: finite, s_density: finite, age: finite, field: finite,
  density: record<Eye['density']>({l: finite, m: finite, s: finite}),
  display: text, display_status: displayStatus, display_words: text, notes: list(text), nm: list(finite), curves, normal: curves,
  peaks_nm: record<Eye['peaks_nm']>({l: nullable(finite), m: nullable(finite), s: nullable(finite)}),
  diagrams: list(diagram),
  neutral_nm: record<Eye['neutral_nm']>({display_white: nullable(finite), d65: nullable(finite)}),
  rayleigh: record<Rayleigh>({
    x: finite, y: finite, range: point, quotient: nullable(finite), normal: record<Rayleigh['normal']>({x: finite, y: finite}), words: text,
  }),
  intended_use: text,
});

/** Each curve has a value for each wavelength, or the picture would lie. */
export const eye: Decoder<Eye> = (value, place) => {
  const read = shape(value, place);
  for (const [name, set] of [['curves', read.curves], ['normal', read.normal]] as const) {
    for (const cone of ['l', 'm', 's'] as const) {
      if (set[cone].length !== read.nm.length) throw new Unreadable(`${place}.${name}.${cone}`, `${read.nm.length} numbers, one for each wavelength`);
    }
  }
  if (read.nm.length < 2) throw new Unreadable(`${place}.nm`, 'a list of wavelengths');
  if (read.diagrams.length === 0) throw new Unreadable(`${place}.diagrams`, 'a list of diagrams');
  return read;
};

/** The wavelength at which a drawn curve is highest. */
export function highestNm(nm: readonly number[], curve: readonly number[]): number {
  return nm[curve.indexOf(Math.max(...curve))] ?? nm[0]!;
}

/** A point of one diagram, in another of the same display. */
export function across(from: Diagram, to: Diagram, place: Point): Point {
  const known = ({triangle: [red, green, blue], white}: Diagram): FourPoints => [red, green, blue, white];
  return from.name === to.name ? place : projectiveMap(known(from), known(to))(place);
}

/** Quotient, match and range in words. */
export function rayleighWords({x, range: [low, high], quotient, words}: Rayleigh): readonly string[] {
  const first = quotient === null ? 'Anomalous quotient: cannot be given.' : `Anomalous quotient ${quotient.toFixed(2)}.`;
  const second = `Mixture at the match ${x.toFixed(2)}; accepted from ${low.toFixed(2)} to ${high.toFixed(2)} (0 all green, 1 all red).`;
  return [first, second, words];
}

/** Neutral points in words. */
export function neutralWords({neutral_nm}: Eye): string {
  const {display_white, d65} = neutral_nm;
  if (display_white === null && d65 === null) {
    return 'Neutral point: none. Only dichromats have a single wavelength that looks like white.';
  }
  const one = (nm: number | null, white: string) => (nm === null ? `none for ${white}` : `${nm.toFixed(1)} nm looks like ${white}`);
  return `Neutral point: ${one(display_white, 'this display’s white')}; ${one(d65, 'daylight D65')}.`;
}
