import {useEffect, useLayoutEffect, useMemo, useRef, useState} from 'preact/hooks';

import kernelAddress from '../generated/view_kernel.wasm?url';
import type {DisplayEntry, Eye} from '../model/eye.ts';
import {type Apart, type Audit, auditWords, type Codes, type TakenPicture, thinned} from '../model/looks.ts';
import {createNewest} from '../model/newest.ts';
import {normalWish, observerText, STRIP_NM, stripObserver, type Wish, wishWords} from '../model/observer.ts';
import {createKernel, spread, type ViewKernel, type ViewPlan} from '../model/view-kernel.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, inSentence} from '../model/words.ts';
import {CurvePicker} from '../parts/curve-picker.tsx';
import {EyeChoice} from '../parts/eye-choice.tsx';
import {KeepFigure} from '../parts/keep-figure.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {NumberField} from '../parts/number-field.tsx';
import {CodesCanvas, HatchCanvas, paintCodes} from '../parts/picture-canvas.tsx';
import {api} from './browser.ts';
import {PageFrame} from './frame.tsx';

/** Half a period of the blink: 1.25 changes to and fro a second, well below three flashes. */
const BLINK_MS = 400;
/** The audit is asked for once the eye has stood still this long. */
const AUDIT_QUIET_MS = 350;
const STRIP_PX = 280;
const ACCEPTED = '.png,.jpg,.jpeg,.tif,.tiff,.webp,.svg,image/png,image/jpeg,image/tiff,image/webp,image/svg+xml';

interface Opened {
  readonly taken: TakenPicture;
  readonly codes: Codes;
}

/** `/views`: a picture of somebody's own through other eyes, with the error of the claim. */
export function ViewsPage() {
  const [display, setDisplay] = useState('srgb/oled');
  const [displays, setDisplays] = useState<readonly DisplayEntry[]>([]);
  const [opened, setOpened] = useState<Opened | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const kernel = useKernel(setTrouble);
  useEffect(() => {
    void api.displays().then((reply) => { if (reply.ok) setDisplays(reply.value); });
  }, []);
  const take = async (file: File) => {
    setBusy(true);
    setTrouble(null);
    const next = await open(file, display);
    setBusy(false);
    if (next.ok) setOpened(next.value);
    else setTrouble(next.trouble);
  };
  return (
    <PageFrame heading="Views: a picture through other eyes" look="wide">
      {trouble !== null && <TroubleNote trouble={trouble} />}
      <Drop
        label="Picture" busy={busy} onFile={(file) => void take(file)}
        hint="PNG, JPEG, TIFF, WebP or SVG, at most 20 MB and 40 megapixels. It stays on this computer, in memory, until the program ends."
      />
      <div class="field">
        <label for="views-display">Display it is for</label>
        <select id="views-display" value={display} onChange={(event) => setDisplay(event.currentTarget.value)}>
          {(displays.length === 0 ? [{name: display}] : displays).map(({name}) => <option key={name} value={name}>{name}</option>)}
        </select>
        <p class="aside">Chosen before the picture is dropped: its colours are turned into this display’s.</p>
      </div>
      {opened !== null && kernel !== null && <Looking key={opened.taken.picture} opened={opened} kernel={kernel} />}
      <CautionNote label="What this is for" lines={[
        'A match of cones, not of experience: nobody knows what a view looks like to another.',
        'For teaching and demonstration in a supervised practical; not for diagnosis, screening, employment or fitness decisions.',
      ]} />
    </PageFrame>
  );
}

async function open(file: File, display: string): Promise<{readonly ok: true; readonly value: Opened} | {readonly ok: false; readonly trouble: Trouble}> {
  const taken = await api.takePicture(await file.arrayBuffer(), display);
  if (!taken.ok) return taken;
  const codes = await api.pictureCodes(taken.value.picture, 'preview');
  return codes.ok ? {ok: true, value: {taken: taken.value, codes: codes.value}} : codes;
}

function useKernel(onTrouble: (trouble: Trouble) => void): ViewKernel | null {
  const [kernel, setKernel] = useState<ViewKernel | null>(null);
  useEffect(() => {
    const load = async () => createKernel(await (await fetch(kernelAddress)).arrayBuffer());
    load().then(setKernel, () => onTrouble({
      status: 0, code: 'kernel', thing: 'kernel', place: kernelAddress, retryAfterMs: null,
      message: 'This browser does not run the kernel that draws views.', remedy: 'Use a newer browser, or the command line: copunctal view.',
    }));
  }, []);
  return kernel;
}

/** A place to drop a file, that is a button too. */
function Drop({label, hint, busy, onFile}: {
  readonly label: string;
  readonly hint: string;
  readonly busy: boolean;
  readonly onFile: (file: File) => void;
}) {
  const [over, setOver] = useState(false);
  const id = `drop-${label.toLowerCase().replaceAll(' ', '-')}`;
  return (
    <div
      class={over ? 'drop over' : 'drop'}
      onDragOver={(event) => { event.preventDefault(); setOver(true); }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        const file = event.dataTransfer?.files[0];
        if (file !== undefined) onFile(file);
      }}
    >
      <label for={id}><strong>{label}</strong>: drop a file here, or choose one</label>
      <input id={id} type="file" accept={ACCEPTED} disabled={busy} aria-describedby={`${id}-hint`} onChange={(event) => {
        const file = event.currentTarget.files?.[0];
        if (file !== undefined) onFile(file);
      }} />
      <p id={`${id}-hint`} class="aside">{hint}</p>
      <p role="status" class="aside">{busy ? 'Reading the picture…' : ''}</p>
    </div>
  );
}

type FigureOf = (what: 'view' | 'curves' | 'errors' | 'strip' | 'same', more?: string) => (kind: string, ground: string) => string;

/** One picture: through an eye, its audit, its strip, what looks the same, another's view, and figures to keep. */
function Looking({opened: {taken, codes}, kernel}: {readonly opened: Opened; readonly kernel: ViewKernel}) {
  const [wish, setWish] = useState<Wish>({...normalWish, deviation: {kind: 'deutan', separationNm: 0}});
  const [wipe, setWipe] = useState(50);
  const [blinks, setBlinks] = useState(false);
  const [dragging, setDragging] = useState(false);
  const [other, setOther] = useState<TakenPicture | null>(null);
  const [otherTrouble, setOtherTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const canvas = useRef<HTMLCanvasElement>(null);
  const {eye, method, trouble} = useView(taken, codes, kernel, wish, canvas);
  const observer = observerText(wish), who = wishWords(wish);
  const {audit, map, theirs, theirMap} = useAudit(taken, observer, other, dragging);
  const shown = useBlink(blinks);
  const clip = blinks ? (shown ? 0 : 100) : wipe;
  const figure: FigureOf = (what, more = '') => (kind, ground) =>
    `/api/pictures/${taken.picture}/figure?what=${what}&as=${encodeURIComponent(observer)}${more}&kind=${kind}&ground=${ground}`;
  const takeOther = async (file: File) => {
    setBusy(true);
    const reply = await api.takePicture(await file.arrayBuffer(), taken.display);
    setBusy(false);
    setOtherTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setOther(reply.value);
  };
  return (
    <section aria-labelledby="looking" class="looking">
      <h2 id="looking">As {inSentence(who)} gets it</h2>
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={() => setWish({...wish})} />}
      <p class="aside">{taken.format}, {taken.width} × {taken.height} pixels; shown {codes.width} × {codes.height}. {asSentence(taken.note)}</p>
      <div class="views-pair">
        <figure>
          <div class="wipe" style={{aspectRatio: `${codes.width} / ${codes.height}`}}>
            <CodesCanvas codes={codes} label="The original" />
            <canvas ref={canvas} class="seen over-it" width={codes.width} height={codes.height} role="img" aria-label={`As ${inSentence(who)} gets it`}
              style={{clipPath: `inset(0 0 0 ${clip}%)`}} />
          </div>
          <figcaption>Left of the edge the original, right of it the view{method === null ? '' : `: method ${method}`}.</figcaption>
        </figure>
        <div class="views-tools">
          <EyeChoice deviation={wish.deviation} onChoose={(deviation) => setWish({...wish, deviation})} />
          {eye !== null && <>
            <CurvePicker eye={eye} deviation={wish.deviation} onMove={(deviation) => setWish({...wish, deviation})} onDragging={setDragging} />
            <NumberField label="Age" unit="years" value={wish.traits.age ?? eye.age} least={20} most={80} step={1} onValue={(age) => setWish({...wish, traits: {...wish.traits, age}})} />
          </>}
          <p>{asSentence(who)}</p>
          <label for="views-wipe">Edge</label>
          <input id="views-wipe" type="range" min={0} max={100} value={wipe} disabled={blinks} onInput={(event) => setWipe(Number(event.currentTarget.value))} />
          <button type="button" aria-pressed={blinks} onClick={() => setBlinks(!blinks)}>Blink original and view</button>
        </div>
      </div>
      <KeepFigure what="original and view" address={figure('view')} />
      <KeepFigure what="the cone curves" address={figure('curves')} />
      <h3>The error of the claim</h3>
      {audit === null ? <p role="status">Computing the audit…</p> : <>
        <p role="status">{asSentence(auditWords(audit))}</p>
        <p class="aside">The number says {audit.claim}. {(100 * audit.share_out_of_range).toFixed(0)} % of the pixels shown have an exact view this display cannot show.</p>
      </>}
      {map !== null && <figure class="views-map">
        <CodesCanvas codes={map} label="Where the view errs: greys, darker the larger" />
        <figcaption>Where it errs: greys from 0, .5, 1, 2, 5 and 10 on, darker the larger.</figcaption>
      </figure>}
      <KeepFigure what="where it errs" address={figure('errors')} />
      <h3>Another’s view of the same picture</h3>
      <Drop label="Other view" busy={busy} onFile={(file) => void takeOther(file)} hint="A view of the whole picture made by any other means: audited the same way, beside ours." />
      {otherTrouble !== null && <TroubleNote trouble={otherTrouble} />}
      {other !== null && theirs !== null && (theirs.ok
        ? <table><caption>Reduced CIEDE2000, for {inSentence(who)}</caption>
          <thead><tr><th scope="col">view</th><th scope="col">mean</th><th scope="col">95th percentile</th><th scope="col">largest</th></tr></thead>
          <tbody>
            {([['ours', audit], ['the other', theirs.value]] as const).map(([name, one]) => one !== null && (
              <tr key={name}><th scope="row">{name}</th><td>{one.reduced_de00.mean.toFixed(2)}</td><td>{one.reduced_de00.p95.toFixed(2)}</td><td>{one.reduced_de00.max.toFixed(1)}</td></tr>
            ))}
          </tbody></table>
        : <TroubleNote trouble={theirs.trouble} />)}
      {theirMap !== null && <figure class="views-map"><CodesCanvas codes={theirMap} label="Where the other view errs" /><figcaption>Where the other view errs.</figcaption></figure>}
      {other !== null && theirs?.ok === true && <KeepFigure what="where the other view errs" address={figure('errors', `&view=${other.picture}`)} />}
      <Strip codes={codes} display={taken.display} kernel={kernel} kind={wish.deviation.kind === 'deutan' ? 'deutan' : 'protan'} />
      <KeepFigure what="the strip" address={figure('strip')} />
      <SameForWhom taken={taken} codes={codes} observer={observer} who={inSentence(who)} figure={(picked) => figure('same', picked)} />
    </section>
  );
}

/**
 * Draws the view whenever the eye changes, and says on the canvas how often it did. The curves come beside it: a picture
 * never waits for them.
 */
function useView(taken: TakenPicture, codes: Codes, kernel: ViewKernel, wish: Wish, canvas: {readonly current: HTMLCanvasElement | null}) {
  const [eye, setEye] = useState<Eye | null>(null);
  const [method, setMethod] = useState<string | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const rgba = useMemo(() => new Uint8ClampedArray(4 * codes.width * codes.height), [codes]);
  const [curves, views] = useMemo(() => {
    let drawn = 0;
    const ofCurves = createNewest(
      async (asked: Wish) => api.eye(observerText(asked), taken.display, null),
      (reply) => { if (reply.ok) setEye(reply.value); },
    );
    const ofViews = createNewest(
      async (asked: Wish) => {
        const observer = observerText(asked);
        const plan = await api.viewPlan(observer, taken.display);
        if (!plan.ok) return plan;
        // What the kernel alone cannot give, the program does.
        const seen = plan.value.is_whole ? null : await api.pictureCodes(taken.picture, `view?as=${encodeURIComponent(observer)}`);
        if (seen !== null && !seen.ok) return seen;
        return {ok: true as const, value: {plan: plan.value, seen: seen?.value ?? null}};
      },
      (reply) => {
        setTrouble(reply.ok ? null : reply.trouble);
        if (!reply.ok) return;
        const {plan, seen} = reply.value;
        setMethod(plan.method);
        if (seen === null) kernel.apply(plan, codes.rgb, rgba);
        else spread(seen.rgb, seen.width * seen.height, rgba);
        if (canvas.current === null) return;
        paintCodes(canvas.current, rgba, codes.width, codes.colourSpace);
        canvas.current.dataset['updates'] = String(++drawn);
      },
    );
    return [ofCurves, ofViews] as const;
  }, []);
  useEffect(() => {
    views.ask(wish);
    curves.ask(wish);
  }, [wish]);
  useEffect(() => () => {
    views.stop();
    curves.stop();
  }, []);
  return {eye, method, trouble};
}

type AuditReply = Awaited<ReturnType<typeof api.audit>>;

function useAudit(taken: TakenPicture, observer: string, other: TakenPicture | null, dragging: boolean) {
  const [audit, setAudit] = useState<Audit | null>(null);
  const [map, setMap] = useState<Codes | null>(null);
  const [theirs, setTheirs] = useState<AuditReply | null>(null);
  const [theirMap, setTheirMap] = useState<Codes | null>(null);
  useEffect(() => {
    let wanted = true;
    setAudit(null);
    const timer = setTimeout(() => {
      if (dragging) return;
      const as = encodeURIComponent(observer);
      void api.audit(taken.picture, observer, null).then((reply) => { if (wanted && reply.ok) setAudit(reply.value); });
      void api.pictureCodes(taken.picture, `map?as=${as}`).then((reply) => { if (wanted && reply.ok) setMap(reply.value); });
      if (other === null) return;
      void api.audit(taken.picture, observer, other.picture).then((reply) => { if (wanted) setTheirs(reply); });
      void api.pictureCodes(taken.picture, `map?as=${as}&view=${other.picture}`).then((reply) => { if (wanted) setTheirMap(reply.ok ? reply.value : null); });
    }, AUDIT_QUIET_MS);
    return () => { wanted = false; clearTimeout(timer); };
  }, [observer, other, dragging]);
  return {audit, map, theirs, theirMap};
}

function useBlink(on: boolean): boolean {
  const [shown, setShown] = useState(true);
  useEffect(() => {
    if (!on) return setShown(true);
    const timer = setInterval(() => setShown((before) => !before), BLINK_MS);
    return () => clearInterval(timer);
  }, [on]);
  return shown;
}

/** The picture from a normal eye to a dichromat. */
function Strip({codes, display, kernel, kind}: {
  readonly codes: Codes;
  readonly display: string;
  readonly kernel: ViewKernel;
  readonly kind: 'protan' | 'deutan';
}) {
  const small = useMemo(() => thinned(codes, STRIP_PX), [codes]);
  const [plans, setPlans] = useState<readonly ViewPlan[]>([]);
  useEffect(() => {
    let wanted = true;
    void Promise.all(STRIP_NM.map((nm) => api.viewPlan(stripObserver(kind, nm, normalWish.traits), display))).then((replies) => {
      if (wanted) setPlans(replies.flatMap((reply) => (reply.ok ? [reply.value] : [])));
    });
    return () => { wanted = false; };
  }, [kind]);
  return (
    <>
      <h3>From a normal eye to a {kind} dichromat</h3>
      <div class="views-strip">
        {plans.map((plan, index) => (
          <figure key={plan.observer}>
            <StripPicture codes={small} plan={plan} kernel={kernel} />
            <figcaption>{STRIP_NM[index]} nm</figcaption>
          </figure>
        ))}
      </div>
    </>
  );
}

function StripPicture({codes, plan, kernel}: {readonly codes: Codes; readonly plan: ViewPlan; readonly kernel: ViewKernel}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    const rgba = new Uint8ClampedArray(4 * codes.width * codes.height);
    kernel.apply(plan, codes.rgb, rgba);
    if (canvas.current !== null) paintCodes(canvas.current, rgba, codes.width, codes.colourSpace);
  }, [codes, plan]);
  return <canvas ref={canvas} class="seen" width={codes.width} height={codes.height} role="img" aria-label={`As ${plan.observer} gets it`} />;
}

type At = readonly [number, number];

/** One colour: what looks the same to this observer is hatched. Two: how far apart they are for everybody. */
function SameForWhom({taken, codes, observer, who, figure}: {
  readonly taken: TakenPicture;
  readonly codes: Codes;
  readonly observer: string;
  readonly who: string;
  readonly figure: (picked: string) => (kind: string, ground: string) => string;
}) {
  const [places, setPlaces] = useState<readonly At[]>([]);
  const [cross, setCross] = useState<At>([0.5, 0.5]);
  const [same, setSame] = useState<{readonly mask: Uint8Array; readonly share: number} | null>(null);
  const [distances, setDistances] = useState<readonly Apart[] | null>(null);
  const pixel = ([x, y]: At): At => [Math.min(codes.width - 1, Math.floor(x * codes.width)), Math.min(codes.height - 1, Math.floor(y * codes.height))];
  const colour = (at: At): readonly number[] => {
    const [x, y] = pixel(at);
    return [...codes.rgb.subarray(3 * (y * codes.width + x), 3 * (y * codes.width + x) + 3)];
  };
  const pick = (at: At) => {
    setCross(at);
    setPlaces(places.length >= 2 ? [at] : [...places, at]);
  };
  useEffect(() => {
    let wanted = true;
    setSame(null);
    setDistances(null);
    if (places[0] !== undefined && places[1] === undefined)
      void api.same(taken.picture, observer, pixel(places[0])).then((reply) => { if (wanted && reply.ok) setSame(reply.value); });
    if (places[0] !== undefined && places[1] !== undefined)
      void api.apart(colour(places[0]), colour(places[1]), taken.display).then((reply) => { if (wanted && reply.ok) setDistances(reply.value); });
    return () => { wanted = false; };
  }, [places, observer]);
  return (
    <>
      <h3 id="same">Same for whom?</h3>
      <p class="aside">Click a colour: everything {who} cannot tell from it is hatched. Click a second one: how far apart the two are, for each observer in units of what that observer can just see.</p>
      <div class="views-pair">
        <div class="wipe pick" style={{aspectRatio: `${codes.width} / ${codes.height}`}} onClick={(event) => {
          const box = event.currentTarget.getBoundingClientRect();
          pick([(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height]);
        }}>
          <CodesCanvas codes={codes} label="The original, to pick colours from" />
          {same !== null && <HatchCanvas mask={same.mask} width={codes.width} height={codes.height} />}
          {places.map(([x, y], index) => <span key={index} class="pick-mark" aria-hidden="true" style={{left: `${100 * x}%`, top: `${100 * y}%`}}>{index + 1}</span>)}
        </div>
        <div class="views-tools">
          {(['Across', 'Down'] as const).map((name, axis) => (
            <div class="field" key={name}>
              <label for={`pick-${axis}`}>{name}, %</label>
              <input id={`pick-${axis}`} type="number" min={0} max={100} step={1} value={Math.round(100 * cross[axis]!)} onChange={(event) => {
                const value = Math.min(1, Math.max(0, Number(event.currentTarget.value) / 100));
                setCross(axis === 0 ? [value, cross[1]] : [cross[0], value]);
              }} />
            </div>
          ))}
          <button type="button" onClick={() => pick(cross)}>Pick the colour there</button>
          <button type="button" disabled={places.length === 0} onClick={() => setPlaces([])}>Forget what was picked</button>
          <p role="status">
            {same !== null && `${(100 * same.share).toFixed(1)} % of the picture is the same to ${who} as colour 1 (codes ${colour(places[0]!).join(', ')}).`}
          </p>
        </div>
      </div>
      {distances !== null && (
        <table>
          <caption>Between codes {colour(places[0]!).join(', ')} and {colour(places[1]!).join(', ')}</caption>
          <thead><tr><th scope="col">observer</th><th scope="col">thresholds apart</th><th scope="col">in words</th></tr></thead>
          <tbody>{distances.map(({observer: name, distance, words}) => <tr key={name}><th scope="row">{name}</th><td>{distance.toFixed(1)}</td><td>{words}</td></tr>)}</tbody>
        </table>
      )}
      {places.length > 0 && <KeepFigure
        what={places.length === 1 ? 'what is the same' : 'how far they are apart'}
        address={figure(['at', 'to'].slice(0, places.length).map((name, index) => `&${name}=${pixel(places[index]!).join(',')}`).join(''))}
      />}
      <p class="aside">Thresholds are design constants: 1 % of luminance, .6 % of L against M, 5 % of S against L. Nobody was measured.</p>
    </>
  );
}
