// What the screen check draws, as raw codes for the display's own pixels. No colour is computed: codes go to the screen
// as they are, and the person looks.

import type {Channel, Share} from './display-record.ts';

/** R, G, B, A codes, rows from the top. */
export type Codes = Uint8ClampedArray<ArrayBuffer>;

/** Patches that should be told from black, darkest first; the second row for a screen that shows none of the first. */
export const BLACK_STEPS: readonly number[] = [1, 2, 3, 4, 6, 8, 12, 16];
export const MORE_BLACK_STEPS: readonly number[] = [24, 32, 48, 64];
/** Patches that should be told from white, lightest first. */
export const WHITE_STEPS: readonly number[] = [254, 253, 252, 250, 247, 243];
export const MORE_WHITE_STEPS: readonly number[] = [239, 231, 223, 207];
export const GREYS: readonly number[] = [48, 80, 112, 144, 176, 208];

const PLACE: {readonly [Of in Channel]: 0 | 1 | 2} = {r: 0, g: 1, b: 2};

/** Whether a line of the raster is full on: one of four, one of two, three of four. */
export function isLit(row: number, share: Share): boolean {
  return share === 0.5 ? row % 2 === 0 : share === 0.25 ? row % 4 === 0 : row % 4 !== 0;
}

/** Lines one pixel high, full on or off in one channel, around a uniform field of `code`. */
export function raster(widthPx: number, heightPx: number, channel: Channel, share: Share, code: number): Codes {
  const inField = inMiddle(widthPx, heightPx);
  return filled(widthPx, heightPx, (x, y) => {
    const value = inField(x, y) ? code : isLit(y, share) ? 255 : 0;
    return [0, 1, 2].map((place) => (place === PLACE[channel] ? value : 0)) as [number, number, number];
  });
}

/** The middle half of the width and of the height. */
function inMiddle(widthPx: number, heightPx: number): (x: number, y: number) => boolean {
  return (x, y) => x >= widthPx / 4 && x < (3 * widthPx) / 4 && y >= heightPx / 4 && y < (3 * heightPx) / 4;
}

/** A row of equal grey patches on a ground; each takes the middle three fifths of its place. */
export function patches(widthPx: number, heightPx: number, ground: number, codes: readonly number[]): Codes {
  const placePx = widthPx / codes.length;
  return filled(widthPx, heightPx, (x, y) => {
    const at = Math.floor(x / placePx);
    const within = x / placePx - at;
    const inside = within >= 0.2 && within < 0.8 && y >= 0.2 * heightPx && y < 0.8 * heightPx;
    const code = inside ? codes[at] ?? ground : ground;
    return [code, code, code];
  });
}

/** Grey fields without a gap. */
export function greys(widthPx: number, heightPx: number, codes: readonly number[]): Codes {
  return filled(widthPx, heightPx, (x) => {
    const code = codes[Math.floor((x * codes.length) / widthPx)] ?? 0;
    return [code, code, code];
  });
}

function filled(widthPx: number, heightPx: number, codeAt: (x: number, y: number) => readonly [number, number, number]): Codes {
  const codes = new Uint8ClampedArray(4 * widthPx * heightPx);
  for (let y = 0, to = 0; y < heightPx; y++) {
    for (let x = 0; x < widthPx; x++, to += 4) {
      codes.set(codeAt(x, y), to);
      codes[to + 3] = 255;
    }
  }
  return codes;
}
