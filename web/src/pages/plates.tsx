import {useEffect, useMemo, useState} from 'preact/hooks';

import type {DisplayEntry, Eye} from '../model/eye.ts';
import {createNewest} from '../model/newest.ts';
import {normalWish, observerText, type Wish, wishWords} from '../model/observer.ts';
import type {Picture} from '../model/picture.ts';
import {
  CELLS, FAMILY_WORDS, familiesFor, type Family, kindWords, makingWords, minutesWords, PLATES, PURPOSE_WORDS, type Purpose, type SetWish, type ShelfPlate,
  type ShelfSet,
} from '../model/shelf.ts';
import {show} from '../model/show.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, inSentence} from '../model/words.ts';
import {CurvePicker} from '../parts/curve-picker.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {StillPlate} from '../parts/plate-canvas.tsx';
import {api, go} from './browser.ts';
import {PageFrame} from './frame.tsx';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 700;
const LOANS: readonly string[] = ['protan:0', 'deutan:0', 'tritan', 'protan:5', 'deutan:5'];

/** `/plates`: sets of plates, made while one watches, and each plate with who reads it. */
export function PlatesPage() {
  const {value: shelf, trouble: notAsked, again} = useEvery(ASK_AGAIN_MS, api.shelf, {asLongAs: ({making}) => making?.state === 'making'});
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [displays, setDisplays] = useState<readonly DisplayEntry[]>([]);
  const [chosen, setChosen] = useState<string | null>(null);
  const [beginning, setBeginning] = useState(false);
  const isMaking = shelf?.making?.state === 'making';
  const shown = trouble ?? notAsked;
  useEffect(() => {
    void api.displays().then((reply) => { if (reply.ok) setDisplays(reply.value); });
  }, []);
  function load(): void {
    setTrouble(null);
    again();
  }

  async function make(wish: SetWish): Promise<void> {
    const reply = await api.makeSet(wish);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) again();
  }
  async function stop(): Promise<void> {
    const reply = await api.stopSet();
    setTrouble(reply.ok ? null : reply.trouble);
    again();
  }

  async function present(name: string): Promise<void> {
    setBeginning(true);
    const reply = await api.change('POST', '/api/shows', {set: name}, show);
    setBeginning(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) go({page: 'show', show: reply.value.show});
  }

  const set = shelf?.sets.find((one) => one.set === chosen) ?? null;
  return (
    <PageFrame heading="Plates" look="wide">
      <p class="lead">Sets of plates, computed for a display. Here one is made, and each plate is looked at: who reads it, why, and how another eye gets it.</p>
      {shown !== null && <TroubleNote trouble={shown} onRetry={load} />}
      {shelf === null ? shown === null && <p>Loading…</p> : <>
        <section aria-labelledby="sets">
          <h2 id="sets">Sets there are</h2>
          <ul class="practicals">
            {shelf.sets.map((one) => (
              <li key={one.set} class="card">
                <div>
                  <h3>{one.set}</h3>
                  <p class="aside">
                    {one.plates} plates of {FAMILY_WORDS[one.symbols]} · {one.purpose} · for {one.display} · seed {one.seed}
                    {one.loan !== null && ` · on loan of ${one.loan}`}{one.in_use && ' · the one sittings use'}
                  </p>
                </div>
                <button type="button" aria-pressed={one.set === chosen} aria-label={`Look at it: ${one.set}`} onClick={() => setChosen(one.set)}>Look at it</button>
                <button type="button" disabled={beginning} aria-label={`Show it to a room: ${one.set}`} onClick={() => void present(one.set)}>Show it to a room</button>
              </li>
            ))}
          </ul>
        </section>
        {set !== null && <Shelved key={set.set} set={set} />}
        <section aria-labelledby="make">
          <h2 id="make">Make a set</h2>
          {shelf.making !== null && (
            <div class="card" role="status">
              <p>{makingWords(shelf.making)}</p>
              {isMaking && <>
                <progress value={shelf.making.done} max={Math.max(1, shelf.making.of)} aria-label="Plates made" />{' '}
                <button type="button" onClick={() => void stop()}>Stop</button>
              </>}
            </div>
          )}
          <MakeForm displays={displays} busy={isMaking} onMake={(wish) => void make(wish)} />
        </section>
        <CautionNote label="What this is for" lines={[asSentence(shelf.intended_use)]} />
      </>}
    </PageFrame>
  );
}

function MakeForm({displays, busy, onMake}: {
  readonly displays: readonly DisplayEntry[];
  readonly busy: boolean;
  readonly onMake: (wish: SetWish) => void;
}) {
  const [purpose, setPurpose] = useState<Purpose>('practical');
  const [plates, setPlates] = useState<number>(PLATES.usual);
  const families = familiesFor(purpose);
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const loan = String(data.get('loan'));
    onMake({
      purpose, display: String(data.get('display')), symbols: String(data.get('symbols')) as Family, seed: Math.round(Number(data.get('seed'))),
      loan: loan === '' ? null : loan, plates: purpose === 'practical' ? plates : null, cells: Math.round(Number(data.get('cells'))),
    });
  };
  return (
    <form class="card fields" onSubmit={submit}>
      <div class="field">
        <label for="set-purpose">For</label>
        <select id="set-purpose" value={purpose} onChange={(event) => setPurpose(event.currentTarget.value as Purpose)} aria-describedby="set-purpose-hint">
          {(Object.keys(PURPOSE_WORDS) as Purpose[]).map((one) => <option key={one} value={one}>{one}</option>)}
        </select>
        <p id="set-purpose-hint" class="aside">{asSentence(PURPOSE_WORDS[purpose])}</p>
      </div>
      {purpose === 'practical' && <div class="field">
        <label for="set-plates">Plates</label>
        <input id="set-plates" type="number" min={PLATES.fewest} max={PLATES.most} step={1} value={plates} required aria-describedby="set-plates-hint"
          onInput={(event) => setPlates(Math.round(Number(event.currentTarget.value)))} />
        <p id="set-plates-hint" class="aside" role="status">Takes {minutesWords(plates, 3)}.</p>
      </div>}
      <div class="field">
        <label for="set-display">Display</label>
        <select id="set-display" name="display">
          {(displays.length === 0 ? [{name: 'srgb/oled'}] : displays).map(({name}) => <option key={name} value={name}>{name}</option>)}
        </select>
      </div>
      <div class="field">
        <label for="set-symbols">Symbols</label>
        <select id="set-symbols" name="symbols">{families.map((one) => <option key={one} value={one}>{FAMILY_WORDS[one]}</option>)}</select>
      </div>
      <div class="field">
        <label for="set-cells">Pebbles a plate</label>
        <input id="set-cells" name="cells" type="number" min={CELLS.fewest} max={CELLS.most} step={1} defaultValue={String(CELLS.usual)} required aria-describedby="set-cells-hint" />
        <p id="set-cells-hint" class="aside">Fewer are easier to draw and to print. With too few a symbol’s stroke is lost, and the set is refused with the number that will do.</p>
      </div>
      <div class="field">
        <label for="set-seed">Seed</label>
        <input id="set-seed" name="seed" type="number" min={0} max={9007199254740991} step={1} defaultValue="2" required aria-describedby="set-seed-hint" />
        <p id="set-seed-hint" class="aside">Another seed gives another set of the same difficulty.</p>
      </div>
      <div class="field">
        <label for="set-loan">On loan of</label>
        <select id="set-loan" name="loan" aria-describedby="set-loan-hint">
          <option value="">nobody: plates as they are</option>
          {LOANS.map((one) => <option key={one} value={one}>{one}</option>)}
        </select>
        <p id="set-loan-hint" class="aside">Drawn so that a normal viewer answers as that observer would. Such a set is not sat: its answers say nothing of the viewer’s own eyes.</p>
      </div>
      <button type="submit" class="primary" disabled={busy}>Make it</button>
    </form>
  );
}

/** A set's plates, and one of them at a closer look. */
function Shelved({set}: {readonly set: ShelfSet}) {
  const [plates, setPlates] = useState<readonly ShelfPlate[] | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [at, setAt] = useState(0);
  useEffect(() => {
    let wanted = true;
    void api.shelfPlates(set.set).then((reply) => {
      if (!wanted) return;
      setTrouble(reply.ok ? null : reply.trouble);
      if (reply.ok) setPlates(reply.value.plates);
    });
    return () => { wanted = false; };
  }, []);
  const plate = plates?.[at];
  return (
    <section aria-labelledby="shelved">
      <h2 id="shelved">Set {set.set}</h2>
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={() => location.reload()} />}
      {plates === null && trouble === null && <p role="status">Computing who reads what…</p>}
      {plates !== null && <>
        <div class="field">
          <label for="shelved-plate">Plate</label>
          <select id="shelved-plate" value={String(at)} onChange={(event) => setAt(Number(event.currentTarget.value))}>
            {plates.map((one, index) => <option key={one.name} value={String(index)}>{one.name} – {one.kind}{one.aim === null ? '' : ` (${one.aim})`}</option>)}
          </select>
        </div>
        {plate !== undefined && <Closer key={`${set.set} ${at}`} set={set} index={at} plate={plate} />}
      </>}
    </section>
  );
}

/** One plate: as drawn and through an eye that follows its cone curves; its readers' row; taken apart. */
function Closer({set, index, plate}: {readonly set: ShelfSet; readonly index: number; readonly plate: ShelfPlate}) {
  const [wish, setWish] = useState<Wish>(normalWish);
  const {eye, original, seen, trouble} = useEyeOn(set, index, wish);
  const observer = observerText(wish), who = inSentence(wishWords(wish));
  const base = `/api/sets/${encodeURIComponent(set.set)}/plates/${index}`;
  return (
    <div class="card">
      <h3>{plate.name}</h3>
      <p>{asSentence(kindWords(plate))}</p>
      <p><strong>{plate.basis === 'salience' ? 'Salience. ' : 'Visibility. '}</strong>{plate.rests_on}</p>
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={() => setWish({...wish})} />}
      <div class="shelf-pair">
        <figure>
          <StillPlate picture={original} label={`Plate ${plate.name} as drawn`} />
          <figcaption>As drawn</figcaption>
        </figure>
        <figure>
          <StillPlate picture={seen} label={`Plate ${plate.name} as ${who} gets it`} />
          <figcaption>As {who} gets it</figcaption>
        </figure>
        <div class="shelf-curves">
          <p class="aside">Drag L towards M, M towards L, or S down; or use the arrow keys.</p>
          {eye !== null && <CurvePicker eye={eye} deviation={wish.deviation} onMove={(deviation) => setWish((before) => ({...before, deviation}))} onDragging={() => undefined} />}
          <button type="button" class="small" disabled={wish.deviation.kind === 'normal'} onClick={() => setWish(normalWish)}>Put back</button>
        </div>
      </div>
      <h4>Who reads it</h4>
      <Figure label="Readers’ row" src={`${base}/readers`} alt={plate.readings.map((one) => `${one.observer}: ${percent(one.first)}${one.second === null ? '' : ` and ${percent(one.second)}`}`).join('; ')} />
      <details>
        <summary>The same in words, with margins</summary>
        <ul class="plain-list">
          {plate.readings.map((one) => <li key={one.observer}><strong>{one.observer}</strong> reads it {percent(one.first)}{one.second !== null && `, the second ${percent(one.second)}`}. {one.margins}</li>)}
        </ul>
      </details>
      <h4>Taken apart for {who}</h4>
      <Figure label="The plate apart" src={`${base}/apart?as=${encodeURIComponent(observer)}`} alt={`Six grey pictures of plate ${plate.name}: L, M and S cones, red–green, yellow–violet and luminance, for ${observer}`} />
    </div>
  );
}

/** A figure of the program's; wider than a phone, so that it scrolls in its own frame there. */
function Figure({label, src, alt}: {readonly label: string; readonly src: string; readonly alt: string}) {
  return <div class="shelf-frame" role="region" aria-label={label} tabIndex={0}><img class="shelf-figure" src={src} alt={alt} /></div>;
}


function percent(p: number): string {
  return `${Math.round(100 * p)} % of the time`;
}

/** The eye of a wish on the set's display, and the plate as drawn and as that eye gets it. */
function useEyeOn(set: ShelfSet, index: number, wish: Wish) {
  const [eye, setEye] = useState<Eye | null>(null);
  const [original, setOriginal] = useState<Picture | undefined>();
  const [seen, setSeen] = useState<Picture | undefined>();
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const newest = useMemo(() => createNewest(
    async (asked: Wish) => {
      const observer = observerText(asked);
      return Promise.all([api.eye(observer, set.display, null), api.shelfPicture(set.set, index, observer)]);
    },
    ([eyeReply, pictureReply]) => {
      if (eyeReply.ok) setEye(eyeReply.value);
      if (pictureReply.ok) setSeen(pictureReply.value.picture);
      setTrouble(!eyeReply.ok ? eyeReply.trouble : !pictureReply.ok ? pictureReply.trouble : null);
    },
  ), []);
  useEffect(() => newest.ask(wish), [wish]);
  useEffect(() => {
    let wanted = true;
    void api.shelfPicture(set.set, index, 'original').then((reply) => { if (wanted && reply.ok) setOriginal(reply.value.picture); });
    return () => { wanted = false; newest.stop(); };
  }, []);
  return {eye, original, seen, trouble};
}
