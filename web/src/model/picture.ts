// A plate's picture as the numbers that go to the screen.

/** Square picture of 8-bit R, G, B, A codes, rows from the top. */
export interface Picture {
  readonly sizePx: number;
  readonly codes: Uint8ClampedArray<ArrayBuffer>;
  /** How far a view is from what its observer makes of the original; null where nothing is claimed or nothing is computed. */
  readonly error: ViewError | null;
  /** How the canvas must read the codes for them to reach the screen the plates were computed for. */
  readonly colourSpace: ColourSpace;
}

export type ColourSpace = 'srgb' | 'display-p3';

/** From the header the program sends with a picture; anything else is read as sRGB. */
export function colourSpaceFrom(header: string | null): ColourSpace {
  return header === 'display-p3' ? 'display-p3' : 'srgb';
}

/** Reduced CIEDE2000 over all pixels: about 1 is just noticeable. */
export interface ViewError {
  readonly mean: number;
  readonly p95: number;
  readonly largest: number;
}

/** From the header the program sends with a view: three numbers, or nothing usable. */
export function viewErrorFrom(header: string | null): ViewError | null {
  const [mean, p95, largest, ...rest] = (header ?? '').split(' ').map((word) => (word === '' ? Number.NaN : Number(word)));
  if (mean === undefined || p95 === undefined || largest === undefined || rest.length > 0) return null;
  return [mean, p95, largest].every((value) => Number.isFinite(value) && value >= 0) ? {mean, p95, largest} : null;
}

/**
 * From R, G, B bytes; the codes are copied, never converted. Null when the bytes are not a square picture, or not one
 * of `sizePx` where that is given.
 */
export function pictureFrom(
  rgb: Uint8Array, sizePx: number = Math.sqrt(rgb.length / 3), error: ViewError | null = null,
  colourSpace: ColourSpace = 'srgb',
): Picture | null {
  if (!Number.isInteger(sizePx) || sizePx < 1 || rgb.length !== 3 * sizePx * sizePx) return null;
  const codes = new Uint8ClampedArray(4 * sizePx * sizePx);
  for (let from = 0, to = 0; from < rgb.length; from += 3, to += 4) {
    codes[to] = rgb[from]!;
    codes[to + 1] = rgb[from + 1]!;
    codes[to + 2] = rgb[from + 2]!;
    codes[to + 3] = 255;
  }
  return {sizePx, codes, error, colourSpace};
}
