// A stroke drawn on a gate path's plate, as another way to name the gate at which it comes out.

/** A point of the plate's picture: 0 to 1 from the left and from the top. */
export type At = readonly [x: number, y: number, ...rest: readonly number[]];

/** The field's margin within the picture, as the program draws it. */
const MARGIN = 0.03;
/** Where the gates are, in units of the field's side: left, left of the top, right of the top, right. */
const GATES: {readonly [symbol: string]: At} = {
  'gate 1': [0, 0.3], 'gate 2': [0.36, 0], 'gate 3': [0.64, 0], 'gate 4': [1, 0.3],
};
/** A stroke that ends within this distance of a gate, in units of the field's side, has come out there. */
const MOUTH = 0.14;
/** Shorter strokes are slips of the pointer. */
const LEAST_LENGTH = 0.15;

/** The gate of the row at which a stroke comes out; null for one that reaches none. */
export function gateReached(stroke: readonly At[], row: readonly string[]): string | null {
  const end = stroke.at(-1);
  if (end === undefined || lengthOf(stroke) < LEAST_LENGTH) return null;
  const x = (end[0] - MARGIN) / (1 - 2 * MARGIN), y = (end[1] - MARGIN) / (1 - 2 * MARGIN);
  for (const symbol of row) {
    const gate = GATES[symbol];
    if (gate !== undefined && Math.hypot(x - gate[0], y - gate[1]) <= MOUTH) return symbol;
  }
  return null;
}

function lengthOf(stroke: readonly At[]): number {
  return stroke.slice(1).reduce((sum, [x, y], i) => sum + Math.hypot(x - stroke[i]![0], y - stroke[i]![1]), 0);
}
