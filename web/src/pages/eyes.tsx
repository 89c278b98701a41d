import {useCallback, useEffect, useLayoutEffect, useMemo, useRef, useState} from 'preact/hooks';

import type {EyePicture, SeenPicture} from '../api/client.ts';
import {type Asked, askedFrom, searchOf} from '../model/eye-query.ts';
import {across, type DiagramName, type DisplayEntry, type Eye, neutralWords, rayleighWords} from '../model/eye.ts';
import {createNewest} from '../model/newest.ts';
import {commandLines, normalWish, observerText, STRIP_NM, stripObserver, type Trait, type Traits, wishWords} from '../model/observer.ts';
import type {Picture} from '../model/picture.ts';
import type {Point} from '../model/projective.ts';
import {remembered, updatesPerSecond} from '../model/rate.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence} from '../model/words.ts';
import {CopyLine} from '../parts/copy-line.tsx';
import {CurveKey, CurvePicker} from '../parts/curve-picker.tsx';
import {DiagramKey, DiagramView} from '../parts/diagram.tsx';
import {DisplayChoice} from '../parts/display-choice.tsx';
import {DisplayStatus} from '../parts/display-status.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {NumberField} from '../parts/number-field.tsx';
import {RayleighScale} from '../parts/rayleigh-scale.tsx';
import {PicturePair, SeparationPictures} from '../parts/seen-pictures.tsx';
import {api} from './browser.ts';
import {useScreen} from './display-watch.ts';
import {copyText} from './copy-text.ts';
import {PageFrame} from './frame.tsx';

/** Browsers refuse a page that rewrites its address too often; it is rewritten once a state has stood this long. */
const ADDRESS_QUIET_MS = 300;
/** The strip is fetched once nothing has been moved for this long. */
const STRIP_QUIET_MS = 400;
const SAY_RATE_MS = 200;
const DIAGRAM_NAMES: {readonly [Of in DiagramName]: string} = {xy: 'x, y', "u'v'": 'u′, v′', 'macleod-boynton': 'MacLeod–Boynton'};
const PICTURE_NAMES: {readonly [Of in EyePicture]: string} = {pebbles: 'pebbles', plate: 'a plate'};

/** `/eyes`: an observer by its cone curves, what it confuses, and a picture as it gets it. */
export function EyesPage() {
  const [{asked: first, unread}] = useState(() => askedFrom(location.search));
  const [asked, setAsked] = useState<Asked>(first);
  const [which, setWhich] = useState<EyePicture>('pebbles');
  const [diagramName, setDiagramName] = useState<DiagramName>('xy');
  const [dragging, setDragging] = useState(false);
  const [displays, setDisplays] = useState<readonly DisplayEntry[]>([]);
  const {eye, seen, trouble, askAgain} = useEye(asked, which);
  const {original, strip, trouble: pictureTrouble} = usePictures(asked, which, dragging, eye !== null);
  const screen = useScreen();
  const rate = useRate(eye, dragging);

  useEffect(() => {
    void api.displays().then((reply) => { if (reply.ok) setDisplays(reply.value); });
  }, []);
  useEffect(() => {
    const timer = setTimeout(() => history.replaceState(null, '', location.pathname + searchOf(asked)), ADDRESS_QUIET_MS);
    return () => clearTimeout(timer);
  }, [asked]);

  // A view already drawn is not compared again with every update of a drag.
  const strips = useMemo(() => (
    <div class="separation-rows">
      {(['protan', 'deutan'] as const).map((kind) => <SeparationPictures key={kind} kind={kind} pictures={STRIP_NM.map((nm) => strip(kind, nm))} />)}
    </div>
  ), [strip]);

  const change = (part: Partial<Asked>) => setAsked((before) => ({...before, ...part}));
  const setTrait = (trait: Trait) => (value: number | null) =>
    setAsked((before) => ({...before, wish: {...before.wish, traits: {...before.wish.traits, [trait]: value}}}));
  const {wish} = asked;
  const words = wishWords(wish);
  const note = unread !== null && asked === first ? unreadable(unread) : trouble ?? pictureTrouble;
  const notes = note && <TroubleNote trouble={note} onRetry={askAgain} />;

  if (eye === null) {
    return (
      <PageFrame heading="An eye, by its cone curves" look="wide">
        {notes ?? <p>Computing…</p>}
        {trouble !== null && <p><button type="button" onClick={() => change({wish: normalWish, display: null, at: null})}>Back to a normal observer</button></p>}
      </PageFrame>
    );
  }
  const xy = eye.diagrams.find(({name}) => name === 'xy') ?? eye.diagrams[0]!;
  const diagram = eye.diagrams.find(({name}) => name === diagramName) ?? xy;
  const picked = asked.at ?? xy.at;
  const pick = (place: Point) => {
    const [x, y] = across(diagram, xy, place);
    change({at: [Number(x.toFixed(4)), Number(y.toFixed(4))]});
  };
  return (
    <PageFrame heading="An eye, by its cone curves" look="wide" updatesPerSecond={rate}>
      {notes}
      <div class="eye">
        <div class="eye-column">
          <section class="card eye-curves" aria-labelledby="curves">
            <div class="card-head">
              <h2 id="curves">Cone curves</h2>
              <button type="button" class="small" disabled={wish.deviation.kind === 'normal'} onClick={() => change({wish: {...wish, deviation: {kind: 'normal'}}})}>
                Put back
              </button>
            </div>
            <p class="how aside">Drag L towards M, M towards L, or S down; or use the arrow keys.</p>
            <CurvePicker eye={eye} deviation={wish.deviation} onMove={(deviation) => change({wish: {...wish, deviation}})} onDragging={setDragging} />
            <p class="observer-words">{words}.</p>
          </section>
          <section class="card eye-pictures" aria-labelledby="pictures">
            <div class="card-head">
              <h2 id="pictures">The same picture, two eyes</h2>
              <Choice name="picture" legend="Picture" options={PICTURE_NAMES} chosen={which} onChoose={setWhich} />
            </div>
            <PicturePair original={original} seen={seen ?? undefined} words={words} />
          </section>
          <section class="card eye-traits" aria-labelledby="traits">
            <h2 id="traits">Age, field, densities, display</h2>
            <div class="number-fields">
              <NumberField label="Age" unit="years" value={wish.traits.age ?? eye.age} least={20} most={80} step={1} onValue={setTrait('age')} />
              <NumberField label="Field" unit="deg" value={wish.traits.field ?? eye.field} least={1} most={10} step={0.5} onValue={setTrait('field')} />
              {(['l', 'm', 's'] as const).map((cone) => (
                <NumberField
                  key={cone} label={`Density ${cone.toUpperCase()}`} unit="" value={wish.traits[`density-${cone}`] ?? eye.density[cone]} least={0} most={3}
                  step={0.05} onValue={setTrait(`density-${cone}`)}
                />
              ))}
            </div>
            <DisplayChoice
              displays={displays} chosen={asked.display ?? eye.display} words={`${eye.display_words.replace(/^./, (first) => first.toUpperCase())}.`}
              onChoose={(display) => change({display})}
            />
            <p class="aside">Densities are peak optical densities. An emptied field goes back to what the program takes by itself.</p>
            <DisplayStatus screen={screen} />
          </section>
        </div>
        <div class="eye-column">
          <section class="card eye-diagram" aria-labelledby="diagram">
            <h2 id="diagram">What it confuses</h2>
            <Choice
              name="diagram" legend="Diagram" chosen={diagram.name} onChoose={setDiagramName}
              options={Object.fromEntries(eye.diagrams.map(({name}) => [name, DIAGRAM_NAMES[name]])) as {[Of in DiagramName]: string}}
            />
            <DiagramView diagram={diagram} at={across(xy, diagram, picked)} onPick={pick} onDragging={setDragging} />
            <p class="aside">
              Colours of one line look alike to an eye of that kind, at the right brightness. The lines go through the ring; click, drag it, or move it
              with the arrow keys.
            </p>
            <DiagramKey diagram={diagram} />
            <div class="number-fields">
              {([0, 1] as const).map((axis) => (
                <NumberField
                  key={axis} label={`Point, ${axis === 0 ? 'x' : 'y'}`} unit="(CIE 1931)" value={picked[axis]} least={0} most={0.9} step={0.005}
                  onValue={(value) => {
                    if (value === null) change({at: null});
                    else change({at: axis === 0 ? [value, picked[1]] : [picked[0], value]});
                  }}
                />
              ))}
            </div>
          </section>
          <section class="card eye-rayleigh" aria-labelledby="rayleigh">
            <h2 id="rayleigh">Matching a yellow with red and green</h2>
            <p class="aside">The Rayleigh match, computed. Bar: mixtures this observer accepts. Diamond: its match. Upright line: a normal observer’s match.</p>
            <RayleighScale rayleigh={eye.rayleigh} />
            {rayleighWords(eye.rayleigh).map((line) => <p key={line}>{asSentence(line)}</p>)}
            <p>{neutralWords(eye)}</p>
          </section>
        </div>
        <section class="card eye-strip" aria-labelledby="strip">
          <h2 id="strip">From a normal eye to a dichromat</h2>
          {strips}
        </section>
        <section class="card eye-notes" aria-labelledby="notes">
          <h2 id="notes">What to know</h2>
          <CurveKey tritan={eye.kind === 'tritan'} />
          <ul class="plain-list">
            {eye.notes.map((line) => <li key={line}>{asSentence(line)}</li>)}
            <li>A modelled eye, not what any one person experiences: two colours this observer’s cones cannot tell apart are drawn alike.</li>
          </ul>
          <h3>The same on the command line</h3>
          {commandLines(wish, asked.display ?? eye.display).map((line) => <CopyLine key={line} line={line} onCopy={copyText} />)}
        </section>
      </div>
      <CautionNote label="What this is for" lines={[asSentence(eye.intended_use)]} />
    </PageFrame>
  );
}

/** A few things of which one is chosen, beside each other. */
function Choice<T extends string>({name, legend, options, chosen, onChoose}: {
  readonly name: string;
  readonly legend: string;
  readonly options: {readonly [Of in T]: string};
  readonly chosen: T;
  readonly onChoose: (option: T) => void;
}) {
  return (
    <fieldset class="segments">
      <legend class="spoken">{legend}</legend>
      {(Object.keys(options) as T[]).map((option) => (
        <label key={option} class={option === chosen ? 'chosen' : undefined}>
          <input type="radio" name={name} checked={option === chosen} onChange={() => onChoose(option)} />
          <span>{options[option]}</span>
        </label>
      ))}
    </fieldset>
  );
}

/** The newest state's eye and picture; during a drag one question is under way and at most one waits. */
function useEye(asked: Asked, which: EyePicture) {
  const [eye, setEye] = useState<Eye | null>(null);
  const [seen, setSeen] = useState<SeenPicture | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const newest = useMemo(() => createNewest(
    async ({asked: {wish, display, at}, which: picture}: {readonly asked: Asked; readonly which: EyePicture}) => {
      const observer = observerText(wish);
      return Promise.all([api.eye(observer, display, at), api.eyePicture(observer, display, picture)]);
    },
    ([eyeReply, pictureReply]) => {
      if (eyeReply.ok) setEye(eyeReply.value);
      if (pictureReply.ok) setSeen(pictureReply.value);
      setTrouble(!eyeReply.ok ? eyeReply.trouble : !pictureReply.ok ? pictureReply.trouble : null);
    },
  ), []);
  useEffect(() => newest.ask({asked, which}), [asked, which]);
  useEffect(() => () => newest.stop(), []);
  return {eye, seen, trouble, askAgain: () => newest.ask({asked, which})};
}

/** The original, and the strip of separations, which is fetched when the browser is idle and nothing is being dragged. */
function usePictures({wish: {traits}, display}: Asked, which: EyePicture, dragging: boolean, ready: boolean): {
  readonly original: Picture | undefined;
  readonly strip: (kind: 'protan' | 'deutan', nm: number) => Picture | undefined;
  readonly trouble: Trouble | null;
} {
  const [pictures, setPictures] = useState<ReadonlyMap<string, Picture>>(new Map());
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const key = (observer: string) => JSON.stringify([observer, display, which]);
  const suffix = JSON.stringify(traits);

  const fetchOne = async (observer: string, stillWanted: () => boolean): Promise<boolean> => {
    const reply = await api.eyePicture(observer, display, which);
    if (!stillWanted()) return false;
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setPictures((before) => new Map(before).set(key(observer), reply.value.picture));
    return reply.ok;
  };
  useEffect(() => {
    let wanted = true;
    if (!pictures.has(key('original'))) void fetchOne('original', () => wanted);
    return () => { wanted = false; };
  }, [display, which]);
  useEffect(() => {
    if (dragging || !ready) return;
    let wanted = true;
    const load = async () => {
      for (const observer of stripObservers(traits)) {
        if (!wanted) return;
        if (pictures.has(key(observer))) continue;
        await whenIdle();
        if (!wanted || !(await fetchOne(observer, () => wanted))) return;
      }
      // What no longer shows is let go.
      const shown = new Set(['original', ...stripObservers(traits)].map(key));
      setPictures((before) => new Map([...before].filter(([name]) => shown.has(name))));
    };
    const timer = setTimeout(() => void load(), STRIP_QUIET_MS);
    return () => {
      wanted = false;
      clearTimeout(timer);
    };
  }, [suffix, display, which, dragging, ready]);
  const strip = useCallback((kind: 'protan' | 'deutan', nm: number) => pictures.get(key(stripObserver(kind, nm, traits))), [pictures, suffix, display, which]);
  return {original: pictures.get(key('original')), strip, trouble};
}

function stripObservers(traits: Traits): readonly string[] {
  return Array.from(new Set((['protan', 'deutan'] as const).flatMap((kind) => STRIP_NM.map((nm) => stripObserver(kind, nm, traits)))));
}

function whenIdle(): Promise<void> {
  return new Promise((done) => {
    if (typeof requestIdleCallback === 'function') requestIdleCallback(() => done(), {timeout: 2000});
    else setTimeout(done, 50);
  });
}

/** Updates drawn a second, over the last second of the present or the last drag; null before any. */
function useRate(eye: Eye | null, dragging: boolean): number | null {
  const times = useRef<readonly number[]>([]);
  const saidMs = useRef(0);
  const [rate, setRate] = useState<number | null>(null);
  useLayoutEffect(() => {
    if (dragging) times.current = [];
    else if (times.current.length > 0) setRate(updatesPerSecond(times.current));
  }, [dragging]);
  useLayoutEffect(() => {
    if (!dragging || eye === null) return;
    const nowMs = performance.now();
    times.current = remembered(times.current, nowMs);
    // Saying the rate draws the page once more, so it is not said with every update.
    if (nowMs - saidMs.current < SAY_RATE_MS) return;
    saidMs.current = nowMs;
    setRate(updatesPerSecond(times.current));
  }, [eye]);
  return rate;
}

function unreadable(what: string): Trouble {
  return {
    status: 0, code: 'invalid', thing: what, place: '/eyes', retryAfterMs: null, message: `The address asks for the ${what}, which cannot be read.`,
    remedy: 'Shown is the rest of what it asks for. An observer is spelt as in protan:6,age=45, a point as in 0.31,0.33; or drag a curve.',
  };
}
