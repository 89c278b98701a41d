import {DONE_KEY, keyFor, keyLabel, NO_FIGURE_KEY} from '../model/keys.ts';
import {questionFor} from '../model/symbols.ts';
import type {Family} from '../model/wire.ts';
import {SymbolFigure} from './symbol-figure.tsx';

/** Answering: the set's own symbols and "no figure for me", each with its key where the page listens to keys. */
export function AnswerRow({family, symbols, chosen, figures, open, keyed = true, entering = null, onSymbol, onNoFigure, onDone}: {
  readonly family: Family;
  /** In the order they stand. */
  readonly symbols: readonly string[];
  /** What is chosen so far, where two may be chosen. */
  readonly chosen: readonly string[];
  readonly figures: 1 | 2;
  /** Where somebody else enters what was said: it stands until Done. */
  readonly entering?: {readonly isNone: boolean; readonly isEntered: boolean} | null;
  /** Whether an answer is taken now. */
  readonly open: boolean;
  readonly keyed?: boolean;
  readonly onSymbol: (symbol: string, atMs: number) => void;
  readonly onNoFigure: (atMs: number) => void;
  readonly onDone: (atMs: number) => void;
}) {
  const two = figures === 2, confirms = two || entering !== null;
  const question = entering === null ? questionFor(family) : 'What was said?';
  return (
    <div class="answer-row" role="group" aria-label={two ? `${question} Up to two symbols` : question}>
      <div class="symbols">
        {symbols.map((symbol) => (
          <button
            key={symbol} type="button" class="symbol" disabled={!open} {...(keyed ? {'aria-keyshortcuts': keyFor(symbol, symbols)} : {})}
            {...(confirms ? {'aria-pressed': chosen.includes(symbol)} : {})}
            onMouseDown={keepFocus} onClick={(event) => onSymbol(symbol, event.timeStamp)}
          >
            <SymbolFigure symbol={symbol} />
            {keyed && <span class="key">key {keyLabel(keyFor(symbol, symbols))}</span>}
          </button>
        ))}
      </div>
      <button
        type="button" class="no-figure" disabled={!open} {...(keyed ? {'aria-keyshortcuts': NO_FIGURE_KEY} : {})} {...(entering === null ? {} : {'aria-pressed': entering.isNone})}
        onMouseDown={keepFocus} onClick={(event) => onNoFigure(event.timeStamp)}
      >
        <span>{entering === null ? 'no figure for me' : 'no figure'}</span>{keyed && <> <span class="key">key {NO_FIGURE_KEY}</span></>}
      </button>
      {confirms && (
        <button
          type="button" class="primary done" disabled={!open || (entering === null ? chosen.length === 0 : !entering.isEntered)} {...(keyed ? {'aria-keyshortcuts': DONE_KEY} : {})}
          onMouseDown={keepFocus} onClick={(event) => onDone(event.timeStamp)}
        >
          <span>Done</span>{keyed && <> <span class="key">key {DONE_KEY}</span></>}
        </button>
      )}
    </div>
  );
}

/** A click must not take the focus, or the next press of Enter would press the same button again. */
function keepFocus(event: MouseEvent): void {
  event.preventDefault();
}
