// Where a drawing in the display's own pixels may lie: a browser rounds a box either to whole CSS pixels or to whole
// pixels of the display, so both its place and its size must be whole in both.

const MOST_CSS_PX = 20;
const TOLERANCE = 0.01;

/** The smallest whole number of CSS pixels that is a whole number of the display's; 1 where there is none of use. */
export function gridStep(pixelRatio: number): number {
  for (let step = 1; step <= MOST_CSS_PX; step++) {
    const pixels = step * pixelRatio;
    if (Math.abs(pixels - Math.round(pixels)) < TOLERANCE) return step;
  }
  return 1;
}

/** The largest size on the grid that is not above `cssPx`, and the pixels of the display it takes. */
export function onGrid(cssPx: number, pixelRatio: number): {readonly cssPx: number; readonly pixels: number} {
  const step = gridStep(pixelRatio);
  const size = Math.max(step, Math.floor(cssPx / step) * step);
  return {cssPx: size, pixels: Math.round(size * pixelRatio)};
}

/** How far right or down something at `cssPx` must go to lie on the grid. */
export function toGrid(cssPx: number, pixelRatio: number): number {
  const step = gridStep(pixelRatio);
  return Math.ceil(cssPx / step - 1e-3) * step - cssPx;
}
