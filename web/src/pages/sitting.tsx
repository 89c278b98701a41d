import {useCallback, useEffect, useMemo, useReducer, useRef, useState} from 'preact/hooks';

import type {Reply} from '../api/client.ts';
import {createOutbox, type Outbox, type OutboxState} from '../api/outbox.ts';
import {interruptedFrom, openItem, type OpenItem} from '../model/answer.ts';
import type {Picture} from '../model/picture.ts';
import {type Course, loading, next} from '../model/sitting.ts';
import type {AnswerBody, RoundItem, SittingState, Trouble} from '../model/wire.ts';
import {RefusedNote, TroubleNote} from '../parts/notes.tsx';
import {NextPlate, VoidReading} from '../parts/examining.tsx';
import {RoundIntroduction} from '../parts/round-introduction.tsx';
import {SavedStatus} from '../parts/saved-status.tsx';
import {StopCard} from '../parts/stop-card.tsx';
import {BORDER_PX} from '../parts/time-border.tsx';
import {api, go, keep, pageLoad, useWindow} from './browser.ts';
import {useScreen} from './display-watch.ts';
import {PageFrame} from './frame.tsx';
import {PlateRun} from './plate-run.tsx';

/** `/sitting/:id`: round after round, each with its introduction; nothing is said about right or wrong, ever. */
export function SittingPage({sittingId}: {readonly sittingId: string}) {
  const [course, happen] = useReducer(next, loading);
  const [outbox, box] = useOutbox(sittingId);
  const {pictures, trouble: pictureTrouble, load: loadPictures} = usePictures(sittingId, course);
  // Of an examined sitting: the item that may be shown, and the one entered last, which may be void.
  const [shown, setShown] = useState<number | null>(null);
  const [last, setLast] = useState<AnswerBody | null>(null);
  const [asked, setAsked] = useState<{readonly busy: boolean; readonly trouble: Trouble | null}>({busy: false, trouble: null});
  const [timeHidden, setTimeHidden] = useState(false);
  const toggleTime = useCallback(() => setTimeHidden((hidden) => !hidden), []);
  const [deleting, setDeleting] = useState<{readonly busy: boolean; readonly trouble: Trouble | null}>({busy: false, trouble: null});
  const view = useWindow();
  // Nothing is said of the screen here, but a change during a sitting ends its record all the same.
  useScreen();
  const openKey = `copunctal.open.${sittingId}`;
  const allSaved = box.queue.waiting.length === 0;

  async function refresh(): Promise<void> {
    const reply = await api.sitting(sittingId);
    if (!reply.ok) return happen({what: 'troubled', trouble: reply.trouble});
    recoverOpenItem(reply.value);
    outbox.learnSaved(reply.value.answered);
    outbox.tryNow();
    const settled = new Set(outbox.state().queue.waiting.map((answer) => answer.body.item));
    happen({what: 'arrived', sitting: reply.value, settled});
  }

  /** An item that another page load showed and never answered is recorded as interrupted, never shown again in silence. */
  function recoverOpenItem(sitting: SittingState): void {
    const open = readOpenItem(keep.read(openKey));
    if (open === null || open.page_load === pageLoad) return;
    const expected = sitting.round?.items.some((item) => item.item === open.item && !item.answered) ?? false;
    const queued = outbox.state().queue.waiting.some((answer) => answer.body.item === open.item);
    if (expected && !queued) outbox.add(interruptedFrom(open));
    keep.remove(openKey);
  }

  function finish(answerId: string, body: AnswerBody): void {
    // Into the queue first: only then may the mark of an open item go.
    outbox.add({id: answerId, body});
    keep.remove(openKey);
    setLast(body);
    happen({what: 'item settled', item: body.item});
  }

  async function ask(asking: Promise<Reply<SittingState>>): Promise<void> {
    setAsked({busy: true, trouble: null});
    const reply = await asking;
    setAsked({busy: false, trouble: reply.ok ? null : reply.trouble});
    if (!reply.ok) return;
    setLast(null);
    await refresh();
  }
  const voidLast = last === null ? null : (
    <VoidReading entered={last} busy={asked.busy || !allSaved} onVoid={(reason) => void ask(api.declareVoid(sittingId, last.item, reason))} />
  );

  async function deleteSitting(): Promise<void> {
    setDeleting({busy: true, trouble: null});
    const reply = await api.deleteSitting(sittingId);
    const gone = reply.ok || reply.trouble.status === 404;
    setDeleting({busy: false, trouble: gone ? null : reply.trouble});
    if (!gone) return;
    outbox.forget();
    keep.remove(openKey);
    happen({what: 'deleted'});
  }

  useEffect(() => void refresh(), [outbox]);
  useEffect(() => {
    if (course.at === 'saving' && allSaved) void refresh();
    if (course.at === 'ended' && allSaved && box.queue.refused.length === 0) go({page: course.examined ? 'sheet' : 'outcome', sitting: sittingId}, true);
  }, [course, allSaved]);

  const offRecord = 'sitting' in course && course.sitting.off_record;
  const notes = (
    <>
      <SavedStatus outbox={box} speaks offRecord={offRecord} />
      <RefusedNote refused={box.queue.refused} />
    </>
  );
  switch (course.at) {
    case 'loading':
      return <PageFrame heading="Sitting" look="calm"><p>Loading…</p></PageFrame>;
    case 'introduction':
      return (
        <RoundIntroduction
          sitting={course.sitting} round={course.round} left={course.left}
          ready={course.left.filter((item) => pictures.has(item.plate)).length}
          roomy={fits(course.sitting.size_px, view)}
          onBegin={() => {
            setShown(course.left[0]?.item ?? null);
            setLast(null);
            happen({what: 'begun'});
          }}
          onStop={() => happen({what: 'asked to stop'})} onEnough={() => void ask(api.enough(sittingId))}
          frame={(heading, content) => (
            <PageFrame heading={heading} look="calm">
              {content}
              {pictureTrouble && <TroubleNote trouble={pictureTrouble} onRetry={loadPictures} />}
              {asked.trouble && <TroubleNote trouble={asked.trouble} />}
              {notes}
            </PageFrame>
          )}
        >
          {course.sitting.examined && voidLast}
        </RoundIntroduction>
      );
    case 'plate': {
      const current = course.left[0]!;
      const place = course.round.items.findIndex((item) => item.item === current.item) + 1;
      if (course.sitting.examined && shown !== current.item)
        return (
          <PageFrame heading={`Plate ${place} of ${course.round.items.length} comes next`} title="Between plates" look="calm">
            <NextPlate onNext={() => setShown(current.item)} onStop={() => happen({what: 'asked to stop'})}>{voidLast}</NextPlate>
            {asked.trouble && <TroubleNote trouble={asked.trouble} />}
            {notes}
          </PageFrame>
        );
      return (
        <Stage label={`Plate ${place} of ${course.round.items.length}`} box={box} offRecord={offRecord}>
          <PlateRun
            key={current.item} item={current.item} picture={pictures.get(current.plate)!}
            limits={{exposureMs: course.sitting.exposure_ms, graceMs: course.sitting.grace_ms}}
            family={course.sitting.family} symbols={course.sitting.symbols} figures={course.round.figures} examined={course.sitting.examined} pixelRatio={view.pixelRatio}
            timeHidden={timeHidden} onToggleTime={toggleTime}
            onOpened={(open) => keep.write(openKey, JSON.stringify(open))}
            onFinished={finish} onStop={() => happen({what: 'asked to stop'})}
          />
        </Stage>
      );
    }
    case 'stopping':
      return (
        <PageFrame heading="Stop here?" look="calm">
          <StopCard busy={deleting.busy} onGoOn={() => happen({what: 'going on'})} onDelete={() => void deleteSitting()} />
          {deleting.trouble && <TroubleNote trouble={deleting.trouble} />}
          {notes}
        </PageFrame>
      );
    case 'saving':
    case 'ended':
      return (
        <PageFrame heading={allSaved ? 'Saved' : 'Saving your answers'} title="Sitting" look="calm">
          {!allSaved && box.trouble === null && <p>One moment.</p>}
          {!allSaved && box.trouble !== null && <TroubleNote trouble={box.trouble} onRetry={outbox.tryNow} />}
          {notes}
          {course.at === 'ended' && allSaved && <a class="button primary" href={`/sitting/${sittingId}/${course.examined ? 'sheet' : 'outcome'}`}>Go on</a>}
        </PageFrame>
      );
    case 'deleted':
      return (
        <PageFrame heading="Deleted" look="calm">
          <p>The sitting and its answers have been removed. Nothing of it is kept here.</p>
          <p><a class="button" href="/">To the start page</a></p>
        </PageFrame>
      );
    case 'trouble':
      return (
        <PageFrame heading="Sitting" look="calm">
          <TroubleNote trouble={course.trouble} onRetry={() => void refresh()} />
          {!allSaved && notes}
          <p><a class="button" href="/">To the start page</a></p>
        </PageFrame>
      );
  }
}

/** The plate on its grey, without the frame of a page; takes the focus once so that keys go nowhere else. */
function Stage({label, box, offRecord, children}: {
  readonly label: string;
  readonly box: OutboxState;
  readonly offRecord: boolean;
  readonly children: preact.ComponentChildren;
}) {
  const main = useRef<HTMLElement>(null);
  useEffect(() => {
    document.documentElement.className = 'calm';
    main.current?.focus();
    window.scrollTo(0, 0);
  }, []);
  return (
    <main ref={main} class="stage" tabIndex={-1} aria-label={label}>
      <div class="stage-top">
        <h1>{label}</h1>
        <SavedStatus outbox={box} speaks={false} offRecord={offRecord} />
      </div>
      {children}
    </main>
  );
}

/** The outbox of this sitting, kept going while the page lives. */
function useOutbox(sittingId: string): readonly [Outbox, OutboxState] {
  const [state, setState] = useState<OutboxState | null>(null);
  const outbox = useMemo(() => createOutbox({
    key: `copunctal.waiting.${sittingId}`,
    keep,
    send: (answer) => api.answer(sittingId, answer),
    uniform: () => crypto.getRandomValues(new Uint32Array(1))[0]! / 2 ** 32,
    later: (work, delayMs) => {
      const timer = setTimeout(work, delayMs);
      return () => clearTimeout(timer);
    },
    changed: setState,
  }), [sittingId]);
  useEffect(() => {
    const tryNow = () => outbox.tryNow();
    const warn = (event: BeforeUnloadEvent) => {
      const {durable, queue} = outbox.state();
      if (!durable && queue.waiting.length > 0) event.preventDefault();
    };
    window.addEventListener('online', tryNow);
    window.addEventListener('pagehide', tryNow);
    window.addEventListener('beforeunload', warn);
    document.addEventListener('visibilitychange', tryNow);
    return () => {
      outbox.stop();
      window.removeEventListener('online', tryNow);
      window.removeEventListener('pagehide', tryNow);
      window.removeEventListener('beforeunload', warn);
      document.removeEventListener('visibilitychange', tryNow);
    };
  }, [outbox]);
  return [outbox, state ?? outbox.state()];
}

/** The pictures of the items still to be shown, fetched during the introduction, before anything can begin. */
function usePictures(sittingId: string, course: Course): {
  readonly pictures: ReadonlyMap<string, Picture>;
  readonly trouble: Trouble | null;
  readonly load: () => void;
} {
  const [pictures, setPictures] = useState<ReadonlyMap<string, Picture>>(new Map());
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [tries, setTries] = useState(0);
  const left = course.at === 'introduction' ? course.left : null;
  const sizePx = course.at === 'introduction' ? course.sitting.size_px : 0;

  useEffect(() => {
    if (left === null) return;
    let wanted = true;
    const load = async (items: readonly RoundItem[]) => {
      setTrouble(null);
      let loaded: ReadonlyMap<string, Picture> = new Map(items.flatMap((item) => {
        const picture = pictures.get(item.plate);
        return picture === undefined ? [] : [[item.plate, picture] as const];
      }));
      for (const item of items.filter((candidate) => !loaded.has(candidate.plate))) {
        const reply = await api.plate(sittingId, item.plate, sizePx);
        if (!wanted) return;
        if (!reply.ok) return setTrouble(reply.trouble);
        loaded = new Map([...loaded, [item.plate, reply.value]]);
        setPictures(loaded);
      }
    };
    void load(left);
    return () => { wanted = false; };
  }, [left, tries]);

  return {pictures, trouble, load: () => setTries((count) => count + 1)};
}

function readOpenItem(kept: string | null): OpenItem | null {
  if (kept === null) return null;
  try {
    return openItem(JSON.parse(kept), 'open item');
  } catch {
    return null;
  }
}

/** Whether a whole plate, its border and the line above it fit into the window. */
function fits(sizePx: number, view: {readonly pixelRatio: number; readonly widthPx: number; readonly heightPx: number}): boolean {
  const sidePx = sizePx / view.pixelRatio;
  return view.widthPx >= sidePx + 2 * BORDER_PX + 16 && view.heightPx >= sidePx + 2 * BORDER_PX + 50;
}
