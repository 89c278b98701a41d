import type {ComponentChildren} from 'preact';
import {useEffect, useRef} from 'preact/hooks';

import {CORRECTED_KEY, DONE_KEY, HESITATED_KEY, keyFor, keyLabel, LATE_KEY, NO_FIGURE_KEY, TIME_KEY} from '../model/keys.ts';
import {introductionTo} from '../model/sitting.ts';
import {gapDegrees, rowOf, symbolName} from '../model/symbols.ts';
import type {Round, RoundItem, SittingState} from '../model/wire.ts';
import {SymbolFigure} from './symbol-figure.tsx';

/** What to do in the round that comes, how long it takes, and the keys. Begin waits until every plate has arrived. */
export function RoundIntroduction({sitting, round, left, ready, roomy, onBegin, onStop, onEnough, children, frame}: {
  readonly sitting: SittingState;
  readonly round: Round;
  readonly left: readonly RoundItem[];
  /** How many of the plates left have arrived. */
  readonly ready: number;
  /** Whether a whole plate fits into the window. */
  readonly roomy: boolean;
  readonly onBegin: () => void;
  readonly onStop: () => void;
  /** Leaves out the plates that come again. */
  readonly onEnough: () => void;
  readonly children?: ComponentChildren;
  readonly frame: (heading: string, content: ComponentChildren) => ComponentChildren;
}) {
  const {title, lines} = introductionTo(round, left.length, sitting.exposure_ms, sitting.family, sitting.examined);
  const row = rowOf(sitting.family, sitting.symbols);
  const begin = useRef<HTMLButtonElement>(null);
  const allReady = ready === left.length;
  const resumed = left.length < round.items.length;
  useEffect(() => {
    // Ready hands: Enter begins, unless the person is already somewhere else on the page.
    const at = document.activeElement;
    if (allReady && (at === null || at === document.body || at.tagName === 'H1')) begin.current?.focus();
  }, [allReady]);
  return frame(title, (
    <div class="introduction">
      <section class="card prose" aria-label="What to do">
        <p class="aside">
          Round {round.place} of at most {round.of}{resumed && ', going on where it stopped'}
          {sitting.pseudonym !== '' && <> · in this practical you are <strong>{sitting.pseudonym}</strong></>}
        </p>
        {lines.map((line) => <p key={line}>{line}</p>)}
        {sitting.family === 'paths' && round.figures === 1 && <p>Instead of choosing the gate you may draw along the path on the plate, up to it.</p>}
        {round.name === 'warm-up' && <p class="aside">These plates were made for a display of kind {sitting.made_for}. On another kind of screen they may read otherwise.</p>}
        {!roomy && (
          <p class="note"><strong>This window is too small to show a whole plate.</strong> Make it larger, or zoom out, before you begin.</p>
        )}
        <div class="buttons">
          <button ref={begin} type="button" class="primary large" disabled={!allReady} onClick={onBegin}>{resumed ? 'Go on' : 'Begin'}</button>
          {round.name === 'again' && <button type="button" onClick={onEnough}>Leave it at that</button>}
          <button type="button" onClick={onStop}>Stop</button>
        </div>
        <p class="aside" role="status">{allReady ? 'All plates are ready.' : `Fetching plates: ${ready} of ${left.length}`}</p>
        {children}
      </section>
      <section class="card for-keyboards" aria-labelledby="keys">
        <h2 id="keys">Keys</h2>
        <dl class="keys">
          {row.map((symbol) => (
            <div key={symbol}>
              <dt><kbd>{keyLabel(keyFor(symbol, row))}</kbd></dt>
              <dd>{sitting.family === 'digits' ? `I see ${symbol}` : <KeyMeaning symbol={symbol} />}</dd>
            </div>
          ))}
          <div><dt><kbd>{NO_FIGURE_KEY}</kbd></dt><dd>no figure for me</dd></div>
          {sitting.examined && <>
            <div><dt><kbd>{HESITATED_KEY}</kbd></dt><dd>it was said with hesitation</dd></div>
            <div><dt><kbd>{CORRECTED_KEY}</kbd></dt><dd>it was corrected: keep the first word, enter the second</dd></div>
            <div><dt><kbd>{LATE_KEY}</kbd></dt><dd>it was said after the plate had gone</dd></div>
          </>}
          {(round.figures === 2 || sitting.examined) && <div><dt><kbd>{DONE_KEY}</kbd></dt><dd>{sitting.examined ? 'it stands as entered' : 'done choosing'}</dd></div>}
          <div><dt><kbd>{TIME_KEY}</kbd></dt><dd>hide or show the border that counts the time</dd></div>
        </dl>
        <p class="aside">Every key is also a button on the screen.</p>
      </section>
    </div>
  ));
}

/** What the key of a ring or a gate says: a ring is also drawn, since its picture is the answer. */
function KeyMeaning({symbol}: {readonly symbol: string}) {
  return <>{gapDegrees(symbol) !== null && <SymbolFigure symbol={symbol} />} {symbolName(symbol)}</>;
}
