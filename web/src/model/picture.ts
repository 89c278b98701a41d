// A plate's picture as the numbers that go to the screen.

/** Square picture of 8-bit R, G, B, A codes, rows from the top. */
export interface Picture {
  readonly sizePx: number;
  readonly codes: Uint8ClampedArray<ArrayBuffer>;
}

/**
 * From R, G, B bytes; the codes are copied, never converted. Null when the bytes are not a square picture, or not one
 * of `sizePx` where that is given.
 */
export function pictureFrom(rgb: Uint8Array, sizePx: number = Math.sqrt(rgb.length / 3)): Picture | null {
  if (!Number.isInteger(sizePx) || sizePx < 1 || rgb.length !== 3 * sizePx * sizePx) return null;
  const codes = new Uint8ClampedArray(4 * sizePx * sizePx);
  for (let from = 0, to = 0; from < rgb.length; from += 3, to += 4) {
    codes[to] = rgb[from]!;
    codes[to + 1] = rgb[from + 1]!;
    codes[to + 2] = rgb[from + 2]!;
    codes[to + 3] = 255;
  }
  return {sizePx, codes};
}
