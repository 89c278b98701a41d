// Building the answer to one item, and choosing symbols where two may be chosen.

import {type Limits, type Over, settleWithChoice} from './exposure.ts';
import {count, type Decoder, finite, flag, id, record} from './decode.ts';
import type {AnswerBody} from './wire.ts';

/** An answer on its way: its id is made once, when the plate is shown, and never changes in a retry. */
export interface Answer {
  readonly id: string;
  readonly body: AnswerBody;
}

/** The symbols chosen so far, and when the last choice was made. */
export interface Choice {
  readonly symbols: readonly string[];
  readonly changedMs: number | null;
}

export const noChoice: Choice = {symbols: [], changedMs: null};

/** Puts a symbol in or takes it out; one more than `most` is not taken, so that nothing chosen is lost unasked. */
export function toggle(choice: Choice, symbol: string, most: number, nowMs: number): Choice {
  if (choice.symbols.includes(symbol)) {
    return {symbols: choice.symbols.filter((chosen) => chosen !== symbol), changedMs: nowMs};
  }
  if (choice.symbols.length >= most) return choice;
  return {symbols: [...choice.symbols, symbol], changedMs: nowMs};
}

/** The answer to `item` from how its exposure ended and what was chosen. */
export function answerFrom(over: Over, choice: Choice, limits: Limits, about: {
  readonly item: number;
  readonly hidden: boolean;
  readonly pageLoad: string;
}): AnswerBody {
  const chosenMs = choice.symbols.length > 0 ? choice.changedMs : null;
  const settled = over.end === 'expired' && chosenMs !== null ? settleWithChoice(over, chosenMs, limits) : over;
  const spoken = settled.end === 'answered' || settled.end === 'late';
  return {
    item: about.item,
    symbols: spoken ? [...choice.symbols].sort() : [],
    end: settled.end,
    onset_ms: settled.onsetMs,
    response_ms: settled.responseMs,
    shown_ms: settled.shownMs,
    frames: settled.frames,
    hidden: about.hidden,
    page_load: about.pageLoad,
  };
}

/**
 * Left in the browser's storage while an item is open. Found by another page load, it tells that the item was shown
 * and never answered.
 */
export interface OpenItem {
  readonly answer: string;
  readonly item: number;
  readonly onset_ms: number;
  readonly shown_ms: number;
  readonly frames: number;
  readonly hidden: boolean;
  readonly page_load: string;
}

export const openItem: Decoder<OpenItem> = record<OpenItem>({
  answer: id, item: count, onset_ms: finite, shown_ms: finite, frames: count, hidden: flag, page_load: id,
});

/** The answer for an item that another page load left open; its times stay on that page load's clock. */
export function interruptedFrom(open: OpenItem): Answer {
  const {answer, ...rest} = open;
  return {id: answer, body: {...rest, symbols: [], end: 'interrupted', response_ms: null}};
}
