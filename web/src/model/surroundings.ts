// What a check of the screen holds for: the zoom, the screen and its mode. A change of any of them ends it.

export interface Surroundings {
  readonly device_pixel_ratio: number;
  readonly screen_px: readonly [number, number];
  /** Where the screen lies on the desktop. */
  readonly screen_at: readonly [number, number];
  readonly colour_depth: number;
  readonly gamut: 'srgb' | 'p3' | 'rec2020';
}

/** Browsers round the ratio; a zoom step is at least a tenth. */
const RATIO_TOLERANCE = 0.005;

/**
 * Why a record made in `then` no longer holds `now`; null while it does. Some browsers state the screen's size and place
 * in zoomed pixels, so both are compared in either unit: a size that agrees in one of them has not changed.
 */
export function endReason(then: Surroundings, now: Surroundings): 'zoom' | 'moved' | 'mode' | null {
  const zoomed = Math.abs(now.device_pixel_ratio / then.device_pixel_ratio - 1) > RATIO_TOLERANCE;
  if (!alike(then, now, 'screen_at')) return 'moved';
  if (!alike(then, now, 'screen_px') || now.colour_depth !== then.colour_depth || now.gamut !== then.gamut) return 'mode';
  return zoomed ? 'zoom' : null;
}

function alike(then: Surroundings, now: Surroundings, what: 'screen_px' | 'screen_at'): boolean {
  const near = (a: number, b: number, within: number) => Math.abs(a - b) <= within;
  const asStated = ([0, 1] as const).every((axis) => then[what][axis] === now[what][axis]);
  const inDevicePixels = ([0, 1] as const).every((axis) =>
    near(then[what][axis] * then.device_pixel_ratio, now[what][axis] * now.device_pixel_ratio, 2 * Math.max(1, now.device_pixel_ratio)));
  return asStated || inDevicePixels;
}
