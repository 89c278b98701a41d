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

/** The answer row as it stands: rings clockwise from upper left or the top, the others ascending as they came. */
export function rowOf(family: Family, symbols: readonly string[]): readonly string[] {
  if (family !== 'rings') return symbols;
  const turned = (symbol: string) => ((gapDegrees(symbol) ?? 0) + 45) % 360;
  return [...symbols].sort((a, b) => turned(a) - turned(b));
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
