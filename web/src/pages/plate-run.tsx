import {useEffect, useLayoutEffect, useMemo, useRef, useState} from 'preact/hooks';

import {noChoice, type OpenItem} from '../model/answer.ts';
import {isEntered, noEntry} from '../model/entry.ts';
import {type Limits, remainingShare, waiting} from '../model/exposure.ts';
import {actionFor, type PlateAction, TIME_KEY} from '../model/keys.ts';
import type {Picture} from '../model/picture.ts';
import {gateReached} from '../model/stroke.ts';
import {rowOf} from '../model/symbols.ts';
import type {AnswerBody, Family} from '../model/wire.ts';
import {AnswerRow} from '../parts/answer-row.tsx';
import {EntryMarks} from '../parts/entry-marks.tsx';
import {blank, paint, PlateCanvas} from '../parts/plate-canvas.tsx';
import {StrokeLayer} from '../parts/stroke-layer.tsx';
import {TimeBorder} from '../parts/time-border.tsx';
import {newId, pageLoad, prefersLessMotion} from './browser.ts';
import {type Run, type RunView, startRun} from './exposure-run.ts';

/** With less motion asked for, the border shrinks in this many steps instead of continuously. */
const CALM_STEPS = 4;

/** One plate being shown: pause, exposure, grace, answer. A new item needs a new key. */
export function PlateRun({item, picture, limits, family, symbols, figures, examined, pixelRatio, timeHidden, onToggleTime, onOpened, onFinished, onStop}: {
  readonly item: number;
  readonly picture: Picture;
  readonly limits: Limits;
  readonly family: Family;
  readonly symbols: readonly string[];
  readonly figures: 1 | 2;
  readonly examined: boolean;
  readonly pixelRatio: number;
  readonly timeHidden: boolean;
  readonly onToggleTime: () => void;
  readonly onOpened: (open: OpenItem) => void;
  readonly onFinished: (answerId: string, body: AnswerBody) => void;
  readonly onStop: () => void;
}) {
  const row = useMemo(() => rowOf(family, symbols), [family, symbols]);
  const canvas = useRef<HTMLCanvasElement>(null);
  const run = useRef<Run | null>(null);
  const [view, setView] = useState<RunView>({exposure: waiting, choice: noChoice, entry: noEntry, nowMs: 0});

  useLayoutEffect(() => {
    const drawn = canvas.current!;
    blank(drawn, picture);
    const started = startRun({
      item, answerId: newId(), pageLoad, limits, figures, examined,
      nextFrame: (work) => {
        const asked = requestAnimationFrame(work);
        return () => cancelAnimationFrame(asked);
      },
      paint: () => paint(drawn, picture),
      blank: () => blank(drawn, picture),
      changed: setView,
      opened: onOpened,
      finished: onFinished,
    });
    run.current = started;
    const visibility = () => {
      if (document.visibilityState === 'hidden') started.hide(performance.now());
    };
    // Another window in front: the person looked elsewhere, and keys went there.
    const left = () => started.hide(performance.now());
    const leaving = () => started.remember(performance.now());
    document.addEventListener('visibilitychange', visibility);
    window.addEventListener('pagehide', leaving);
    window.addEventListener('blur', left);
    return () => {
      started.stop();
      document.removeEventListener('visibilitychange', visibility);
      window.removeEventListener('pagehide', leaving);
      window.removeEventListener('blur', left);
    };
  }, []);

  useEffect(() => {
    const pressed = (event: KeyboardEvent) => {
      if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
      const action = actionFor(event.key, row, examined);
      if (action === null) return;
      // Somebody who reached a button by Tab means that button when pressing Enter.
      if (action.does === 'done' && event.target instanceof HTMLButtonElement) return;
      event.preventDefault();
      if (action.does === 'toggle time') onToggleTime();
      else run.current?.act(action, event.timeStamp);
    };
    window.addEventListener('keydown', pressed);
    return () => window.removeEventListener('keydown', pressed);
  }, [row, examined, onToggleTime]);

  // Asked first, settled second: the last plate of a round must not lead on to the next one.
  const stop = () => {
    onStop();
    run.current?.interrupt(performance.now());
  };
  const act = (action: PlateAction, atMs: number) => run.current?.act(action, atMs);
  const {exposure, choice, entry, nowMs} = view;
  const remaining = remainingShare(exposure, nowMs);
  const shownShare = prefersLessMotion() ? Math.ceil(CALM_STEPS * remaining) / CALM_STEPS : remaining;
  const open = exposure.phase === 'shown' || exposure.phase === 'blank';
  return (
    <>
      <div class="plate-field">
        {!timeHidden && <TimeBorder platePx={picture.sizePx / pixelRatio} remaining={exposure.phase === 'waiting' ? 0 : shownShare} />}
        <PlateCanvas canvas={canvas} sizePx={picture.sizePx} pixelRatio={pixelRatio} />
        {family === 'paths' && <StrokeLayer sidePx={picture.sizePx / pixelRatio} open={open} onStroke={(stroke, atMs) => {
          run.current?.draw(stroke);
          const symbol = gateReached(stroke, row);
          if (symbol !== null) act({does: 'symbol', symbol}, atMs);
        }} />}
      </div>
      <div class="answering">
        <AnswerRow
          family={family} symbols={row} chosen={choice.symbols} figures={figures} open={open}
          entering={examined ? {isNone: entry.none, isEntered: isEntered(entry)} : null}
          onSymbol={(symbol, atMs) => act({does: 'symbol', symbol}, atMs)}
          onNoFigure={(atMs) => act({does: 'no figure'}, atMs)}
          onDone={(atMs) => act({does: 'done'}, atMs)}
        />
        {examined && <EntryMarks entry={entry} open={open} onMark={(does, atMs) => act({does}, atMs)} />}
        <div class="stage-tools">
          <button type="button" class="quiet" aria-keyshortcuts={TIME_KEY} aria-pressed={timeHidden} onClick={onToggleTime}>
            Hide the time <span class="key">key {TIME_KEY}</span>
          </button>
          <button type="button" class="quiet" onClick={stop}>Stop</button>
        </div>
      </div>
    </>
  );
}
