// Pictures dropped on the page of views, spelt as docs/api.md spells them, with a decoder beside each type.

import {type Decoder, count, finite, flag, list, record, text} from './decode.ts';
import type {ColourSpace} from './picture.ts';
import type {ViewPlan} from './view-kernel.ts';

export interface TakenPicture {
  readonly picture: string;
  readonly display: string;
  readonly format: string;
  readonly width: number;
  readonly height: number;
  readonly preview: {readonly width: number; readonly height: number};
  readonly note: string;
}
export const takenPicture: Decoder<TakenPicture> = record<TakenPicture>({
  picture: text, display: text, format: text, width: count, height: count,
  preview: record<TakenPicture['preview']>({width: count, height: count}), note: text,
});

export const viewPlan: Decoder<ViewPlan & {readonly display: string; readonly intended_use: string}> = record({
  observer: text, method: text, is_whole: flag, a: list(finite), k: list(finite), n: list(finite), two_sided: flag, notes: list(text),
  display: text, intended_use: text,
});

export interface Spread {
  readonly mean: number;
  readonly p95: number;
  readonly max: number;
}
const spread = record<Spread>({mean: finite, p95: finite, max: finite});
export interface Audit {
  readonly reduced_de00: Spread;
  readonly floor_de00: Spread;
  readonly share_out_of_range: number;
  readonly pixels: number;
  readonly claim: string;
}
export const audit: Decoder<Audit> = record<Audit>({
  reduced_de00: spread, floor_de00: spread, share_out_of_range: finite, pixels: count, claim: text,
});

export interface Apart {
  readonly observer: string;
  readonly distance: number;
  readonly words: string;
}
export const apart = record<{readonly distances: readonly Apart[]}>({distances: list(record<Apart>({observer: text, distance: finite, words: text}))});

/** R, G, B codes of a picture of any shape. */
export interface Codes {
  readonly width: number;
  readonly height: number;
  readonly rgb: Uint8Array;
  readonly colourSpace: ColourSpace;
}

/** From the header that says a size; null where it does not fit the bytes. */
export function sizeFrom(header: string | null, bytes: number, channels: number): {readonly width: number; readonly height: number} | null {
  const [width, height, ...rest] = (header ?? '').split(' ').map(Number);
  if (width === undefined || height === undefined || rest.length > 0) return null;
  return Number.isInteger(width) && Number.isInteger(height) && width > 0 && height > 0 && channels * width * height === bytes ? {width, height} : null;
}

/** A picture of at most `most` pixels across: whole pixels left out, none mixed. */
export function thinned({width, height, rgb, colourSpace}: Codes, most: number): Codes {
  const by = Math.max(1, Math.ceil(Math.max(width, height) / most));
  if (by === 1) return {width, height, rgb, colourSpace};
  const w = Math.floor((width + by - 1) / by), h = Math.floor((height + by - 1) / by);
  const small = new Uint8Array(3 * w * h);
  for (let y = 0; y < h; ++y)
    for (let x = 0; x < w; ++x) {
      const from = 3 * (y * by * width + x * by);
      small.set(rgb.subarray(from, from + 3), 3 * (y * w + x));
    }
  return {width: w, height: h, rgb: small, colourSpace};
}

/** The audit's headline as it is printed on the page. */
export function auditWords({reduced_de00: error, floor_de00: floor}: Audit): string {
  return `error ${error.mean.toFixed(2)} on average, ${error.p95.toFixed(2)} at the 95th percentile, ${error.max.toFixed(1)} at most ` +
    `(reduced CIEDE2000; rounding alone ${floor.mean.toFixed(2)})`;
}
