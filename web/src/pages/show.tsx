import {useEffect, useLayoutEffect, useRef, useState} from 'preact/hooks';

import type {Reply} from '../api/client.ts';
import type {Picture} from '../model/picture.ts';
import {pathOf} from '../model/route.ts';
import {clockText, nextWords, placeWords, projected, type Show, show, stepFor, wallPx} from '../model/show.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence} from '../model/words.ts';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {paint, PlateCanvas, StillPlate} from '../parts/plate-canvas.tsx';
import {ExpectedTable, ShowTally} from '../parts/show-tally.tsx';
import {api, go, keep, useWindow} from './browser.ts';
import {PageFrame} from './frame.tsx';
import {useEvery} from './use-every.ts';

const PRESENTER_ASKS_MS = 1000;
const AUDIENCE_ASKS_MS = 250;
const SMALL_PX = 400;

/** What the program said of a show, and when on this page's clock. */
interface Heard {
  readonly show: Show;
  readonly atMs: number;
}

/** `/show/:id`: for who presents. The room sees the other window. */
export function ShowPage({showId}: {readonly showId: string}) {
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [picture, setPicture] = useState<Picture | undefined>(undefined);
  // Where the last key led, and how many of them the program has not confirmed: keys may come faster than replies.
  const wanted = useRef({step: 0, unconfirmed: 0});
  const {value: heard, trouble: notAsked, again, put} = useEvery(PRESENTER_ASKS_MS, async () => confirmed(await api.get(`/api/shows/${showId}`, show)));
  const state = heard?.show ?? null;
  const place = state?.place ?? null;

  /** What the program says, and when; nothing while keys are on their way that it does not know of. */
  function confirmed(reply: Reply<Show>): Reply<Heard> | null {
    if (wanted.current.unconfirmed > 0) return null;
    if (!reply.ok) return reply;
    wanted.current.step = reply.value.step;
    return {ok: true, value: {show: reply.value, atMs: performance.now()}};
  }
  const goTo = async (step: number | null) => {
    if (step === null) return;
    wanted.current = {step, unconfirmed: wanted.current.unconfirmed + 1};
    const reply = await api.change('PUT', `/api/shows/${showId}/step`, {step}, show);
    --wanted.current.unconfirmed;
    setTrouble(reply.ok ? null : reply.trouble);
    const last = confirmed(reply);
    if (last?.ok === true) put(last.value);
    else if (last !== null) again();
  };

  useEffect(() => {
    if (place === null) return;
    setPicture(undefined);
    let isWanted = true;
    void api.square(`/api/shows/${showId}/picture?place=${place}&size=${SMALL_PX}`).then((reply) => {
      if (isWanted && reply.ok) setPicture(reply.value);
    });
    return () => { isWanted = false; };
  }, [showId, place]);
  useEffect(() => {
    const pressed = (event: KeyboardEvent) => {
      // What is being typed, or a control that has the focus, keeps its keys.
      const at = event.target;
      if (at instanceof HTMLTextAreaElement || at instanceof HTMLInputElement || event.ctrlKey || event.altKey || event.metaKey) return;
      if ((event.key === ' ' || event.key === 'Enter') && at instanceof Element && at.closest('button, a, summary') !== null) return;
      const step = state === null ? null : stepFor(event.key, wanted.current.step, state.steps);
      if (step === null) return;
      event.preventDefault();
      void goTo(step);
    };
    document.addEventListener('keydown', pressed);
    return () => document.removeEventListener('keydown', pressed);
  }, [state]);

  async function end(): Promise<void> {
    await api.change('DELETE', `/api/shows/${showId}`, {}, () => null);
    go({page: 'plates'});
  }

  const shown = trouble ?? notAsked;
  return (
    <PageFrame heading="Plates for the room" title="Show" look="wide">
      {shown !== null && <TroubleNote trouble={shown} onRetry={() => { setTrouble(null); again(); }} />}
      {heard === null || state === null ? shown === null && <p>Loading…</p> : <>
        <p class="lead" role="status">{placeWords(state)}</p>
        <div class="buttons">
          <button type="button" disabled={state.step === 0} onClick={() => void goTo(state.step - 1)}>Back</button>
          <button type="button" class="primary" disabled={state.over} onClick={() => void goTo(state.step + 1)}>{nextWords(state)}</button>
          <a class="button" href={pathOf({page: 'audience', show: showId})} target="_blank" rel="noopener">Open the window for the projector</a>
        </div>
        <p class="aside">Keys: right, space or page down goes on; left or page up goes back. The window for the projector follows, and both keep their place when loaded again.</p>
        <div class="presenting">
          <section aria-labelledby="plate">
            <h2 id="plate">{state.over ? 'The last one' : `Plate ${state.place + 1}: ${state.plate.name}`}</h2>
            <StillPlate picture={picture} label={`Plate ${state.place + 1}, as on the wall`} />
            <p><strong>{state.plate.kind}</strong>, drawn: {state.plate.drawn.join(' and ')}. {asSentence(state.plate.rests_on)}</p>
            <Timer onForMs={state.on_for_ms} heardMs={heard.atMs} />
          </section>
          <section aria-labelledby="answers">
            <h2 id="answers">Answers</h2>
            <ShowTally tally={state.tally} />
            <p class="aside">On phones at <a href="/join">the page to join</a>; on paper by number, in the same order as the answer sheet.</p>
            <Notes key={`${state.set} ${state.place}`} name={`copunctal.show.${state.set}.${state.place}`} />
          </section>
        </div>
        {state.expected !== null && (
          <section aria-labelledby="expected"><h2 id="expected">Who is predicted to read it</h2><ExpectedTable expected={state.expected} /></section>
        )}
        <CautionNote label="What this is for" lines={[asSentence(state.words), asSentence(state.intended_use)]} />
        <button type="button" onClick={() => void end()}>End the show</button>
      </>}
    </PageFrame>
  );
}

/** How long the plate has been on the wall. */
function Timer({onForMs, heardMs}: {readonly onForMs: number | null; readonly heardMs: number}) {
  const [, tick] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => tick((before) => before + 1), 500);
    return () => clearInterval(timer);
  }, []);
  return <p>On the wall for <span class="timer" role="timer" aria-label="On the wall for">{onForMs === null ? '–:––' : clockText(onForMs + performance.now() - heardMs)}</span></p>;
}

/** The presenter's own notes to a plate; they stay in this browser. */
function Notes({name}: {readonly name: string}) {
  const [text, setText] = useState(() => keep.read(name) ?? '');
  return (
    <div class="field">
      <label for="show-notes">Your notes to this plate</label>
      <textarea id="show-notes" rows={3} maxLength={2000} value={text} onInput={({currentTarget: {value}}) => {
        setText(value);
        if (value === '') keep.remove(name);
        else keep.write(name, value);
      }} />
      <p class="aside">Kept in this browser only.</p>
    </div>
  );
}

/** `/show/:id/audience`: on the projector. The plate alone on its grey, or nothing. */
export function AudiencePage({showId}: {readonly showId: string}) {
  // Not reached for a moment: what stands stays.
  const [isGone, setGone] = useState(false);
  const {value: now, trouble} = useEvery(isGone ? null : AUDIENCE_ASKS_MS, () => api.get(`/api/shows/${showId}/audience`, projected));
  const [picture, setPicture] = useState<{readonly place: number; readonly of: Picture} | null>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const {pixelRatio, widthPx, heightPx} = useWindow();
  const sizePx = wallPx(widthPx, heightPx, pixelRatio);
  const place = now?.place ?? null;
  const isShown = now !== null && now.phase !== 'blank' && picture !== null && picture.place === now.place;

  useEffect(() => {
    document.documentElement.className = 'calm';
    document.title = 'Plates · Copunctal';
  }, []);
  useEffect(() => {
    if (trouble?.status === 404) setGone(true);
  }, [trouble]);
  // Fetched while the wall is still blank, so that the plate stands at once.
  useEffect(() => {
    if (place === null) return;
    let isWanted = true;
    void api.square(`/api/shows/${showId}/picture?place=${place}&size=${sizePx}`).then((reply) => {
      if (isWanted && reply.ok) setPicture({place, of: reply.value});
    });
    return () => { isWanted = false; };
  }, [showId, place, sizePx]);
  useLayoutEffect(() => {
    if (isShown && canvas.current !== null) paint(canvas.current, picture.of);
  }, [isShown, picture]);

  return (
    <main class="wall" data-phase={now?.phase}>
      <h1 class="spoken">{isShown ? `Plate ${now.place + 1}` : 'Plates for the room'}</h1>
      {isShown && !isGone && <PlateCanvas canvas={canvas} sizePx={picture.of.sizePx} pixelRatio={pixelRatio} />}
      {now !== null && !now.begun && !isGone && <p class="wall-words">{asSentence(now.words)}</p>}
      {isGone && <p class="wall-words">The show is over.</p>}
    </main>
  );
}
