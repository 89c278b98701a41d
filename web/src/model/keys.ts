// Which key means what while a plate is open.

export type PlateAction =
  | {readonly does: 'symbol'; readonly symbol: string}
  | {readonly does: 'no figure'}
  | {readonly does: 'done'}
  | {readonly does: 'toggle time'}
  /** What an examiner notes beside what was said. */
  | {readonly does: 'hesitated' | 'corrected' | 'late'};

export const NO_FIGURE_KEY = 'N';
export const DONE_KEY = 'Enter';
export const TIME_KEY = 'T';
export const HESITATED_KEY = 'H';
export const CORRECTED_KEY = 'C';
export const LATE_KEY = 'L';

/** The arrow of an upright ring's gap. */
const ARROWS: {readonly [symbol: string]: string} = {up: 'ArrowUp', right: 'ArrowRight', down: 'ArrowDown', left: 'ArrowLeft'};

/** The key for a symbol: itself where it is one character, its arrow where all are arrows, else its place in the row, from 1. */
export function keyFor(symbol: string, row: readonly string[]): string {
  if (row.every((other) => other in ARROWS)) return ARROWS[symbol]!;
  return row.every((other) => other.length === 1) ? symbol.toUpperCase() : String(row.indexOf(symbol) + 1);
}

/** A key as it is written beside a symbol: "↑" for ArrowUp. */
export function keyLabel(key: string): string {
  const arrows: {readonly [key: string]: string} = {ArrowUp: '↑', ArrowRight: '→', ArrowDown: '↓', ArrowLeft: '←'};
  return arrows[key] ?? key;
}

/** What a pressed key asks for; null when nothing. A symbol wins over the letters we chose ourselves. */
export function actionFor(pressed: string, row: readonly string[], isExamined = false): PlateAction | null {
  const key = pressed.length === 1 ? pressed.toUpperCase() : pressed;
  const symbol = row.find((candidate) => keyFor(candidate, row) === key);
  if (symbol !== undefined) return {does: 'symbol', symbol};
  switch (key) {
    case NO_FIGURE_KEY:
      return {does: 'no figure'};
    case DONE_KEY:
      return {does: 'done'};
    case TIME_KEY:
      return {does: 'toggle time'};
    case HESITATED_KEY:
      return isExamined ? {does: 'hesitated'} : null;
    case CORRECTED_KEY:
      return isExamined ? {does: 'corrected'} : null;
    case LATE_KEY:
      return isExamined ? {does: 'late'} : null;
    default:
      return null;
  }
}
