// Runs one plate through pause, exposure, grace and answer, with the browser's frames and events handed in.

import {answerFrom, type Choice, noChoice, type OpenItem, toggle} from '../model/answer.ts';
import {droppedFrames} from '../model/dropped.ts';
import {entered, type Entry, isEntered, noEntry, withEntry} from '../model/entry.ts';
import {type Exposure, frame, interrupt, type Limits, type Over, respond, show, waiting} from '../model/exposure.ts';
import type {PlateAction} from '../model/keys.ts';
import type {AnswerBody, Drawn} from '../model/wire.ts';

/** Neutral grey before each plate, ms, so that the last plate's afterimage is not answered. */
export const PAUSE_MS = 500;

export interface RunView {
  readonly exposure: Exposure;
  readonly choice: Choice;
  /** Of an examiner; empty where the person answers. */
  readonly entry: Entry;
  readonly nowMs: number;
}

export interface RunNeeds {
  readonly item: number;
  readonly answerId: string;
  readonly pageLoad: string;
  readonly limits: Limits;
  /** How many symbols may be answered. */
  readonly figures: 1 | 2;
  /** Somebody else enters what was said, and confirms it. */
  readonly examined: boolean;
  /** Asks for the next animation frame; returns how to take that back. */
  readonly nextFrame: (work: (nowMs: number) => void) => () => void;
  readonly paint: () => void;
  readonly blank: () => void;
  readonly changed: (view: RunView) => void;
  /** The item is open: it was painted and awaits its answer. Said at onset, and again when asked by `remember`. */
  readonly opened: (open: OpenItem) => void;
  readonly finished: (answerId: string, body: AnswerBody) => void;
}

export interface Run {
  /** A line drawn over the plate, in ms of the page's clock. */
  readonly draw: (stroke: readonly Drawn[]) => void;
  /** A key or a button, at the time of its event. */
  readonly act: (action: PlateAction, atMs: number) => void;
  /** The window was hidden: the record says so. */
  readonly hide: (atMs: number) => void;
  /** The page may be going away: says once more how far the item has come. */
  readonly remember: (atMs: number) => void;
  /** Ends the item unanswered; an item not yet painted is simply not begun. Returns whether it was open. */
  readonly interrupt: (atMs: number) => boolean;
  /** Ends everything without an answer, as when the page is torn down. */
  readonly stop: () => void;
}

/** As many as are kept of one plate. */
const MOST_STROKES = 12;
const MOST_POINTS = 250;

/** A stroke with no more points than are kept, spread evenly, its ends among them; four decimals are a tenth of a pixel. */
function thinned(stroke: readonly Drawn[]): readonly Drawn[] {
  const least = Math.max(1, (stroke.length - 1) / (MOST_POINTS - 1));
  const kept: Drawn[] = [];
  for (let at = 0; Math.round(at) < stroke.length; at += least) {
    const [x, y, ms] = stroke[Math.round(at)]!;
    kept.push([Math.round(1e4 * x) / 1e4, Math.round(1e4 * y) / 1e4, ms]);
  }
  return kept;
}

export function startRun(needs: RunNeeds): Run {
  let exposure: Exposure = waiting;
  let choice: Choice = noChoice;
  let entry: Entry = noEntry;
  const strokes: (readonly Drawn[])[] = [];
  const painted: number[] = [];
  let hidden = false;
  let pauseBeganMs: number | null = null;
  let cancelFrame = needs.nextFrame(onFrame);

  function onFrame(nowMs: number): void {
    pauseBeganMs ??= nowMs;
    if (exposure.phase === 'shown') painted.push(nowMs);
    if (exposure.phase !== 'waiting') become(frame(exposure, nowMs), nowMs);
    else if (nowMs - pauseBeganMs >= PAUSE_MS) {
      needs.paint();
      exposure = show(nowMs, needs.limits);
      painted.push(nowMs);
      remember(nowMs);
    }
    if (exposure.phase === 'over') return;
    cancelFrame = needs.nextFrame(onFrame);
    needs.changed({exposure, choice, entry, nowMs});
  }

  function become(next: Exposure, nowMs: number): void {
    if (exposure.phase === 'shown' && next.phase !== 'shown') needs.blank();
    const wasOver = exposure.phase === 'over';
    exposure = next;
    if (exposure.phase !== 'over' || wasOver) return;
    cancelFrame();
    needs.changed({exposure, choice, entry, nowMs});
    const dropped = droppedFrames(painted);
    const asked = answerFrom(exposure, choice, needs.limits, {item: needs.item, hidden, pageLoad: needs.pageLoad});
    const plain = dropped > 0 ? {...asked, dropped} : asked;
    const body = needs.examined ? withEntry(plain, entry) : plain;
    const {onsetMs} = exposure;
    const drawn = strokes.map((stroke) => stroke.map(([x, y, ms]): Drawn => [x, y, Math.round(10 * (ms - onsetMs)) / 10]));
    needs.finished(needs.answerId, drawn.length > 0 ? {...body, strokes: drawn} : body);
  }

  function isOpen(): boolean {
    return exposure.phase === 'shown' || exposure.phase === 'blank';
  }

  function remember(nowMs: number): void {
    if (!isOpen()) return;
    const so = interrupt(exposure, nowMs) as Over;
    needs.opened({
      answer: needs.answerId, item: needs.item, onset_ms: so.onsetMs, shown_ms: so.shownMs, frames: so.frames, hidden,
      page_load: needs.pageLoad,
    });
  }

  function act(action: PlateAction, atMs: number): void {
    if (!isOpen() || action.does === 'toggle time') return;
    // A press made before onset but delivered after it answers nothing.
    if (respond(exposure, atMs) === exposure) return;
    if (needs.examined) {
      if (action.does === 'done') {
        if (isEntered(entry)) become(respond(exposure, atMs), atMs);
        return;
      }
      entry = entered(entry, action, needs.figures);
      // A choice that stands, should the examiner forget to confirm it.
      choice = {symbols: entry.symbols, changedMs: atMs};
      needs.changed({exposure, choice, entry, nowMs: atMs});
      return;
    }
    switch (action.does) {
      case 'symbol':
        choice = toggle(choice, action.symbol, needs.figures, atMs);
        if (needs.figures === 1) become(respond(exposure, atMs), atMs);
        else needs.changed({exposure, choice, entry, nowMs: atMs});
        return;
      case 'no figure':
        choice = noChoice;
        become(respond(exposure, atMs), atMs);
        return;
      case 'done':
        if (choice.symbols.length > 0) become(respond(exposure, atMs), atMs);
    }
  }

  return {
    draw: (stroke) => {
      if (isOpen() && strokes.length < MOST_STROKES) strokes.push(thinned(stroke));
    },
    act,
    hide: (atMs) => {
      if (!isOpen()) return;
      hidden = true;
      remember(atMs);
    },
    remember,
    interrupt: (atMs) => {
      const open = isOpen();
      if (open) become(interrupt(exposure, atMs), atMs);
      else cancelFrame();
      return open;
    },
    stop: () => cancelFrame(),
  };
}
