// What the symbols of each family are called, and in which order the answer row shows them.

import type {Family} from './wire.ts';

/** Where a ring's gap is, in degrees clockwise from the top; null for what is no ring. */
export function gapDegrees(symbol: string): number | null {
  const places: {readonly [symbol: string]: number} = {
    'up': 0, 'up right': 45, 'right': 90, 'down right': 135, 'down': 180, 'down left': 225, 'left': 270, 'up left': 315,
  };
  return places[symbol] ?? null;
}

/** A symbol as it is said: "4", "gap up left", "gate 2". */
export function symbolName(symbol: string): string {
  return gapDegrees(symbol) === null ? symbol : `gap ${symbol}`;
}

/** Upper gaps before lower ones, left before right: two by two, each gap stands where it points as far as it can. */
const RINGS = ['up left', 'up right', 'up', 'down', 'left', 'right', 'down left', 'down right'];

/** The answer row as it stands; what is no ring stays ascending, as it came. */
export function rowOf(family: Family, symbols: readonly string[]): readonly string[] {
  return family === 'rings' ? [...symbols].sort((a, b) => RINGS.indexOf(a) - RINGS.indexOf(b)) : symbols;
}

/** What is asked of somebody who looks at a plate of one symbol. */
export function questionFor(family: Family): string {
  switch (family) {
    case 'digits':
      return 'What do you see?';
    case 'rings':
      return 'Where is the gap?';
    case 'paths':
      return 'At which gate does it come out?';
  }
}
