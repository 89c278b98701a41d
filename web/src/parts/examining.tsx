import type {ComponentChildren} from 'preact';
import {useEffect, useRef} from 'preact/hooks';

import {readingText} from '../model/sheet.ts';
import type {AnswerBody} from '../model/wire.ts';

/** Between two plates of an examined sitting: the next one comes when both are ready. */
export function NextPlate({onNext, onStop, children}: {
  readonly onNext: () => void;
  readonly onStop: () => void;
  readonly children: ComponentChildren;
}) {
  const next = useRef<HTMLButtonElement>(null);
  useEffect(() => next.current?.focus(), []);
  return (
    <section class="card prose" aria-label="Between plates">
      <div class="buttons">
        <button ref={next} type="button" class="primary large" onClick={onNext}>Show the plate <span class="key">key Enter</span></button>
        <button type="button" onClick={onStop}>Stop</button>
      </div>
      {children}
    </section>
  );
}

export const VOID_REASONS = [
  {reason: 'interrupted', words: 'interrupted'},
  {reason: 'not looking', words: 'the person was not looking'},
  {reason: 'wrong entry', words: 'entered wrongly'},
  {reason: 'other', words: 'for another reason'},
] as const;
export type VoidReason = (typeof VOID_REASONS)[number]['reason'];

/** The last reading may be declared void: its plate comes again, and what was entered is kept. */
export function VoidReading({entered, busy, onVoid}: {
  readonly entered: AnswerBody;
  readonly busy: boolean;
  readonly onVoid: (reason: VoidReason) => void;
}) {
  return (
    <details>
      <summary>Entered last: {readingText(entered)}. Declare it void?</summary>
      <p class="aside">A void reading says nothing. It stays on the sheet, and its plate comes again at the end of the round.</p>
      <div class="buttons">
        {VOID_REASONS.map(({reason, words}) => (
          <button key={reason} type="button" disabled={busy} onClick={() => onVoid(reason)}>Void: {words}</button>
        ))}
      </div>
    </details>
  );
}
