// What an examiner enters while somebody else reads: it stands until it is confirmed.

import type {PlateAction} from './keys.ts';
import type {AnswerBody} from './wire.ts';

export interface Entry {
  readonly symbols: readonly string[];
  /** "No figure" was said. */
  readonly none: boolean;
  /** What was said before it was corrected; null unless it was. */
  readonly first: readonly string[] | null;
  readonly hesitated: boolean;
  readonly late: boolean;
}

export const noEntry: Entry = {symbols: [], none: false, first: null, hesitated: false, late: false};

/** Whether there is a reading to confirm. */
export function isEntered(entry: Entry): boolean {
  return entry.none || entry.symbols.length > 0;
}

/** The entry after a key or a button; what does not belong to an entry changes nothing. */
export function entered(entry: Entry, action: PlateAction, figures: 1 | 2): Entry {
  switch (action.does) {
    case 'symbol': {
      if (entry.symbols.includes(action.symbol)) return {...entry, symbols: entry.symbols.filter((symbol) => symbol !== action.symbol)};
      // With one figure the last word stands; of two, nothing entered is lost unasked.
      if (figures === 1) return {...entry, symbols: [action.symbol], none: false};
      return entry.symbols.length < figures ? {...entry, symbols: [...entry.symbols, action.symbol], none: false} : entry;
    }
    case 'no figure':
      return {...entry, symbols: [], none: !entry.none};
    case 'hesitated':
      return {...entry, hesitated: !entry.hesitated};
    case 'late':
      return {...entry, late: !entry.late};
    case 'corrected':
      // The very first word is kept, however often it is corrected.
      return isEntered(entry) ? {...entry, first: entry.first ?? [...entry.symbols].sort(), symbols: [], none: false} : entry;
    default:
      return entry;
  }
}

/** The answer with what was entered. Its times are those of the entry; whether it was late is the examiner's to say. */
export function withEntry(body: AnswerBody, entry: Entry): AnswerBody {
  if (body.end !== 'answered' && body.end !== 'late') return body;
  const symbols = [...entry.symbols].sort();
  const first = entry.first !== null && JSON.stringify(entry.first) !== JSON.stringify(symbols) ? entry.first : null;
  return {
    ...body, symbols, end: entry.late ? 'late' : 'answered', ...(entry.hesitated ? {hesitated: true} : {}),
    ...(first === null ? {} : {first_symbols: first}),
  };
}
