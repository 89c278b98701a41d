// The web API as typed functions (docs/api.md). Nothing here throws: a reply is a value or one shape of trouble.

import {counts, type Decoder, id, list, record, text, Unreadable} from '../model/decode.ts';
import type {Answer} from '../model/answer.ts';
import {classDebrief, type ClassDebrief, type RunPractical, runPractical, type Watched, watched} from '../model/class.ts';
import {currentRecord, type DisplayCheck, displayRecord, type DisplayRecord, type EndReason} from '../model/display-record.ts';
import {type DisplayEntry, displays, eye, type Eye} from '../model/eye.ts';
import {about, type About, classState, type ClassState, openPracticals, type OpenPracticals, type ClassDisplays, classDisplays} from '../model/join.ts';
import {apart, type Apart, audit, type Audit, type Codes, sizeFrom, type TakenPicture, takenPicture, viewPlan} from '../model/looks.ts';
import {colourSpaceFrom, pictureFrom, viewErrorFrom, type Picture} from '../model/picture.ts';
import {answerRows, type PaperRow, type PaperScores, paperScores} from '../model/paper.ts';
import {making, type Making, type SetWish, shelf, type Shelf, type ShelfPlate, shelfPlates} from '../model/shelf.ts';
import {type BlindResult, blindResult, type BlindSheets, blindSheets, rota, type RotaPlace, type Sheet, sheet, type SignOff} from '../model/sheet.ts';
import type {ViewPlan} from '../model/view-kernel.ts';
import {
  errorBody, type EyeName, type Outcome, outcome, type Practical, practical, practicals, type Receipt, receipt, type SexAtBirth,
  type SittingState, sittingState, type Tell, type Trouble,
} from '../model/wire.ts';

export type Reply<T> =
  | {readonly ok: true; readonly value: T}
  | {readonly ok: false; readonly trouble: Trouble};

export interface Api {
  /** A route that one page alone asks, with its own decoder. */
  get<T>(path: string, decoder: Decoder<T>): Promise<Reply<T>>;
  change<T>(method: string, path: string, body: unknown, decoder: Decoder<T>): Promise<Reply<T>>;
  /** A square picture of any route. */
  square(path: string): Promise<Reply<Picture>>;
  practicals(): Promise<Reply<readonly Practical[]>>;
  practicalsToRun(): Promise<Reply<readonly Practical[]>>;
  startPractical(wish: PracticalWish): Promise<Reply<Practical>>;
  about(): Promise<Reply<About>>;
  /** With the code of the class; the browser keeps what is given. */
  join(code: string): Promise<Reply<null>>;
  openPracticals(): Promise<Reply<OpenPracticals>>;
  classState(): Promise<Reply<ClassState>>;
  classDisplays(): Promise<Reply<ClassDisplays>>;
  makeForDisplay(display: string): Promise<Reply<Making>>;
  newClassCode(): Promise<Reply<ClassState>>;
  setJoining(state: 'open' | 'locked'): Promise<Reply<ClassState>>;
  /** A practical as whoever runs it sees it. */
  runPractical(practicalId: string): Promise<Reply<RunPractical>>;
  openPractical(practicalId: string, expected: {readonly men: number; readonly women: number; readonly misses: number}): Promise<Reply<RunPractical>>;
  closePractical(practicalId: string): Promise<Reply<RunPractical>>;
  watchPractical(practicalId: string): Promise<Reply<readonly Watched[]>>;
  classDebrief(practicalId: string): Promise<Reply<ClassDebrief>>;
  startSitting(
    practicalId: string, consent: {readonly tell: Tell; readonly sex_at_birth: SexAtBirth; readonly on_loan?: boolean; readonly off_record?: boolean; readonly purposes?: readonly string[]; readonly examined?: boolean; readonly eye?: EyeName},
  ): Promise<Reply<SittingState>>;
  sitting(sittingId: string): Promise<Reply<SittingState>>;
  /** A plate of a round reached; trouble when it does not have `sizePx` × `sizePx` pixels. */
  plate(sittingId: string, plateId: string, sizePx: number): Promise<Reply<Picture>>;
  answer(sittingId: string, answer: Answer): Promise<Reply<Receipt>>;
  choose(sittingId: string, tell: 'tell' | 'dont_tell'): Promise<Reply<SittingState>>;
  deleteSitting(sittingId: string): Promise<Reply<null>>;
  declareVoid(sittingId: string, item: number, reason: string): Promise<Reply<SittingState>>;
  /** Leaves out the plates that come again. */
  enough(sittingId: string): Promise<Reply<SittingState>>;
  /** Begins a sitting with the eye that was covered. */
  otherEye(sittingId: string): Promise<Reply<SittingState>>;
  sheet(sittingId: string): Promise<Reply<Sheet>>;
  signOff(sittingId: string, signOff: SignOff): Promise<Reply<Sheet>>;
  rota(people: number, stations: number): Promise<Reply<readonly (readonly RotaPlace[])[]>>;
  /** A code to come back with; the one before is no longer any. */
  newCollectCode(sittingId: string): Promise<Reply<string>>;
  /** The sitting that a code belongs to. */
  collect(code: string): Promise<Reply<string>>;
  takePart(practicalId: string, entry: string): Promise<Reply<null>>;
  participations(practicalId: string): Promise<Reply<readonly string[]>>;
  copyPractical(practicalId: string, wish: {readonly name: string; readonly course: string; readonly group: string}): Promise<Reply<Practical>>;
  keepUntil(practicalId: string, until: string | null): Promise<Reply<Practical>>;
  blindSheets(practicalId: string, rater: string): Promise<Reply<BlindSheets>>;
  rateSheet(practicalId: string, sheet: number, rated: {readonly rater: string; readonly rating: number; readonly kind: string}): Promise<Reply<null>>;
  blindResult(practicalId: string): Promise<Reply<BlindResult>>;
  /** A code with which one device joins as a demonstrator's. */
  newDemonstratorCode(): Promise<Reply<string>>;
  /** How many are at which stage. */
  stages(practicalId: string): Promise<Reply<ReadonlyMap<string, number>>>;
  /** Ends what a device may do; it may join again with the code. */
  endDevice(device: number): Promise<Reply<null>>;
  outcome(sittingId: string): Promise<Reply<Outcome>>;
  /** A plate of the outcome, as drawn (`original`) or as an observer gets it. */
  outcomePlate(sittingId: string, item: number, as: string): Promise<Reply<Picture>>;
  displays(): Promise<Reply<readonly DisplayEntry[]>>;
  /** An observer on a display, with the confusion lines through `at` (CIE 1931 x, y); null: the program's own choice. */
  eye(observer: string, display: string | null, at: readonly [number, number] | null): Promise<Reply<Eye>>;
  /** A picture of the program's own as an observer gets it, or the `original`. */
  eyePicture(observer: string, display: string | null, picture: EyePicture): Promise<Reply<SeenPicture>>;
  shelf(): Promise<Reply<Shelf>>;
  makeSet(wish: SetWish): Promise<Reply<Making>>;
  stopSet(): Promise<Reply<null>>;
  answerRows(set: string): Promise<Reply<{readonly plates: readonly PaperRow[]; readonly intended_use: string}>>;
  scorePaper(set: string, csv: string): Promise<Reply<PaperScores>>;
  shelfPlates(set: string): Promise<Reply<{readonly plates: readonly ShelfPlate[]}>>;
  /** A plate of a set, as drawn (`original`) or as an observer gets it. */
  shelfPicture(set: string, plate: number, as: string): Promise<Reply<SeenPicture>>;
  /** Takes in a picture's bytes, whatever its format. It stays with the program, on this computer. */
  takePicture(bytes: ArrayBuffer, display: string): Promise<Reply<TakenPicture>>;
  /** Codes of a picture that was taken in: `preview`, `view?as=…` or `map?as=…`. */
  pictureCodes(picture: string, what: string): Promise<Reply<Codes>>;
  viewPlan(observer: string, display: string): Promise<Reply<ViewPlan>>;
  /** The audit of the program's own view, or of another picture that was taken in as one. */
  audit(picture: string, observer: string, view: string | null): Promise<Reply<Audit>>;
  /** One byte a pixel: 1 where the observer cannot tell it from the one at x, y; and the share of these. */
  same(picture: string, observer: string, at: readonly [number, number]): Promise<Reply<{readonly mask: Uint8Array; readonly share: number}>>;
  apart(a: readonly number[], b: readonly number[], display: string): Promise<Reply<readonly Apart[]>>;
  currentRecord(): Promise<Reply<DisplayRecord | null>>;
  recordDisplay(check: DisplayCheck): Promise<Reply<DisplayRecord>>;
  endRecord(record: string, reason: EndReason): Promise<Reply<DisplayRecord>>;
}

export interface PracticalWish {
  readonly name?: string;
  readonly exposure_ms?: number;
  /** To be opened later, with a prediction card. */
  readonly prepare?: boolean;
  readonly loans?: readonly string[];
  readonly course?: string;
  readonly group?: string;
  readonly lateness?: 'ignore' | 'note' | 'miss';
  readonly again?: boolean;
  readonly keep_until?: string;
}

export type EyePicture = 'pebbles' | 'plate';

/** A picture, and the name of the method that made it; null for an original. */
export interface SeenPicture {
  readonly picture: Picture;
  readonly method: string | null;
}

/** `fetch`, or a stand-in for it. */
export type Fetch = (address: string, init: RequestInit) => Promise<Response>;

const TIME_LIMIT_MS = 20_000;
/** Letters; each may take three bytes. */
const LONGEST_KEPT_ALIVE = 20_000;

export function createApi(fetch: Fetch): Api {
  const get = <T>(path: string, decoder: Decoder<T>) => json(send(fetch, 'GET', path), decoder, path);
  const change = <T>(method: string, path: string, body: unknown, decoder: Decoder<T>) =>
    json(send(fetch, method, path, body), decoder, path);
  return {
    get, change, square: (path) => picture(fetch, path),
    practicals: async () => {
      const reply = await get('/api/practicals', practicals);
      return reply.ok ? {ok: true, value: reply.value.practicals} : reply;
    },
    practicalsToRun: async () => {
      const reply = await get('/api/practicals-to-run', practicals);
      return reply.ok ? {ok: true, value: reply.value.practicals} : reply;
    },
    startPractical: (wish) => change('POST', '/api/practicals', wish, practical),
    about: () => get('/api/about', about),
    join: async (code) => {
      const reply = await send(fetch, 'POST', '/api/join', {code});
      return reply.ok ? {ok: true, value: null} : reply;
    },
    openPracticals: () => get('/api/open-practicals', openPracticals),
    classState: () => get('/api/class', classState),
    classDisplays: () => get('/api/class/displays', classDisplays),
    makeForDisplay: (display) => change('POST', '/api/set-for-display', {display}, making),
    newClassCode: () => change('POST', '/api/class/code', {}, classState),
    setJoining: (state) => change('PUT', '/api/class/joining', {state}, classState),
    runPractical: (practicalId) => get(`/api/practicals/${practicalId}`, runPractical),
    openPractical: (practicalId, expected) => change('POST', `/api/practicals/${practicalId}/open`, expected, runPractical),
    closePractical: (practicalId) => change('POST', `/api/practicals/${practicalId}/close`, {}, runPractical),
    watchPractical: async (practicalId) => {
      const reply = await get(`/api/practicals/${practicalId}/watch`, watched);
      return reply.ok ? {ok: true, value: reply.value.sittings} : reply;
    },
    classDebrief: (practicalId) => get(`/api/practicals/${practicalId}/debrief`, classDebrief),
    startSitting: (practicalId, consent) =>
      change('POST', `/api/practicals/${practicalId}/sittings`, {consent: true, ...consent}, sittingState),
    sitting: (sittingId) => get(`/api/sittings/${sittingId}`, sittingState),
    plate: (sittingId, plateId, sizePx) => picture(fetch, `/api/sittings/${sittingId}/plates/${plateId}`, sizePx),
    answer: (sittingId, answer) => change('PUT', `/api/sittings/${sittingId}/answers/${answer.id}`, answer.body, receipt),
    choose: (sittingId, tell) => change('PUT', `/api/sittings/${sittingId}/choice`, {tell}, sittingState),
    deleteSitting: async (sittingId) => {
      const reply = await send(fetch, 'DELETE', `/api/sittings/${sittingId}`);
      return reply.ok ? {ok: true, value: null} : reply;
    },
    declareVoid: (sittingId, item, reason) => change('POST', `/api/sittings/${sittingId}/voids`, {item, reason}, sittingState),
    enough: (sittingId) => change('POST', `/api/sittings/${sittingId}/enough`, {}, sittingState),
    otherEye: (sittingId) => change('POST', `/api/sittings/${sittingId}/other-eye`, {}, sittingState),
    sheet: (sittingId) => get(`/api/sittings/${sittingId}/sheet`, sheet),
    signOff: (sittingId, signOff) => change('PUT', `/api/sittings/${sittingId}/sign-off`, signOff, sheet),
    rota: async (people, stations) => {
      const reply = await get(`/api/rota?people=${people}&stations=${stations}`, rota);
      return reply.ok ? {ok: true, value: reply.value.turns} : reply;
    },
    newCollectCode: async (sittingId) => {
      const reply = await change('POST', `/api/sittings/${sittingId}/collect-code`, {}, record<{code: string}>({code: text}));
      return reply.ok ? {ok: true, value: reply.value.code} : reply;
    },
    collect: async (code) => {
      const reply = await change('POST', '/api/collect', {code}, record<{sitting: string}>({sitting: id}));
      return reply.ok ? {ok: true, value: reply.value.sitting} : reply;
    },
    takePart: (practicalId, entry) => done(send(fetch, 'POST', `/api/practicals/${practicalId}/participation`, {entry})),
    participations: async (practicalId) => {
      const reply = await get(`/api/practicals/${practicalId}/participations`, record<{entries: readonly string[]}>({entries: list(text)}));
      return reply.ok ? {ok: true, value: reply.value.entries} : reply;
    },
    copyPractical: (practicalId, wish) => change('POST', `/api/practicals/${practicalId}/copy`, wish, practical),
    keepUntil: (practicalId, until) => change('PUT', `/api/practicals/${practicalId}/keep`, {until}, practical),
    blindSheets: (practicalId, rater) => get(`/api/practicals/${practicalId}/sheets?rater=${rater}`, blindSheets),
    rateSheet: (practicalId, sheet, rated) => done(send(fetch, 'PUT', `/api/practicals/${practicalId}/sheets/${sheet}`, rated)),
    blindResult: (practicalId) => get(`/api/practicals/${practicalId}/sheets-result`, blindResult),
    newDemonstratorCode: async () => {
      const reply = await change('POST', '/api/class/demonstrators', {}, record<{code: string}>({code: text}));
      return reply.ok ? {ok: true, value: reply.value.code} : reply;
    },
    stages: async (practicalId) => {
      const reply = await get(`/api/practicals/${practicalId}/stages`, record<{stages: ReadonlyMap<string, number>}>({stages: counts}));
      return reply.ok ? {ok: true, value: reply.value.stages} : reply;
    },
    endDevice: (device) => done(send(fetch, 'DELETE', `/api/class/devices/${device}`)),
    outcome: (sittingId) => get(`/api/sittings/${sittingId}/outcome`, outcome),
    outcomePlate: (sittingId, item, as) =>
      picture(fetch, `/api/sittings/${sittingId}/outcome/plates/${item}?as=${encodeURIComponent(as)}`),
    displays: async () => {
      const reply = await get('/api/displays', displays);
      return reply.ok ? {ok: true, value: reply.value.displays} : reply;
    },
    eye: (observer, display, at) => get(`/api/eye?${query({observer, display, at: at && at.join(',')})}`, eye),
    eyePicture: async (observer, display, which) => {
      return seenPicture(fetch, `/api/eye/picture?${query({observer, display, picture: which})}`);
    },
    shelf: () => get('/api/sets', shelf),
    makeSet: (wish) => change('POST', '/api/sets', wish, making),
    stopSet: async () => {
      const reply = await send(fetch, 'DELETE', '/api/sets/making');
      return reply.ok ? {ok: true, value: null} : reply;
    },
    shelfPlates: (set) => get(`/api/sets/${encodeURIComponent(set)}`, shelfPlates),
    answerRows: (set) => get(`/api/sets/${encodeURIComponent(set)}/answer-rows`, answerRows),
    scorePaper: (set, csv) => json(send(fetch, 'POST', `/api/sets/${encodeURIComponent(set)}/scores`, {csv}), paperScores, '/api/sets/scores'),
    shelfPicture: (set, plate, as) =>
      seenPicture(fetch, `/api/sets/${encodeURIComponent(set)}/plates/${plate}/picture?as=${encodeURIComponent(as)}`),
    takePicture: (bytes, display) =>
      json(send(fetch, 'POST', `/api/pictures?${query({display})}`, undefined, bytes), takenPicture, '/api/pictures'),
    pictureCodes: async (picture, what) => {
      const path = `/api/pictures/${picture}/${what}`;
      const sent = await send(fetch, 'GET', path);
      if (!sent.ok) return sent;
      const rgb = new Uint8Array(await sent.value.arrayBuffer());
      const size = sizeFrom(sent.value.headers.get('X-Copunctal-Size'), rgb.length, 3);
      if (size === null) return {ok: false, trouble: unreadable(path, 'no picture')};
      return {ok: true, value: {...size, rgb, colourSpace: colourSpaceFrom(sent.value.headers.get('X-Copunctal-Colour-Space'))}};
    },
    viewPlan: (observer, display) => get(`/api/eye/plan?${query({observer, display})}`, viewPlan),
    audit: (picture, observer, view) => get(`/api/pictures/${picture}/audit?${query({as: observer, view})}`, audit),
    same: async (picture, observer, at) => {
      const path = `/api/pictures/${picture}/same?${query({as: observer, at: at.join(',')})}`;
      const sent = await send(fetch, 'GET', path);
      if (!sent.ok) return sent;
      const mask = new Uint8Array(await sent.value.arrayBuffer());
      return {ok: true, value: {mask, share: Number(sent.value.headers.get('X-Copunctal-Share'))}};
    },
    apart: async (a, b, display) => {
      const reply = await get(`/api/colours/apart?${query({a: a.join(','), b: b.join(','), display})}`, apart);
      return reply.ok ? {ok: true, value: reply.value.distances} : reply;
    },
    currentRecord: async () => {
      const reply = await get('/api/display-records/current', currentRecord);
      return reply.ok ? {ok: true, value: reply.value.current} : reply;
    },
    recordDisplay: (check) => change('POST', '/api/display-records', check, displayRecord),
    endRecord: (record, reason) => change('POST', `/api/display-records/${record}/end`, {reason}, displayRecord),
  };
}

/** The query of what is said; null is not said. */
function query(said: {readonly [name: string]: string | null}): string {
  return Object.entries(said).flatMap(([name, value]) => (value === null ? [] : [`${name}=${encodeURIComponent(value)}`])).join('&');
}

/** The same without a body. */
async function done(sent: Promise<Reply<Response>>): Promise<Reply<null>> {
  const reply = await sent;
  return reply.ok ? {ok: true, value: null} : reply;
}

/** A response with a 2xx status, or trouble. Only requests that change something carry the two headers the server asks for. */
async function send(fetch: Fetch, method: string, path: string, body?: unknown, bytes?: ArrayBuffer): Promise<Reply<Response>> {
  const changes = method !== 'GET';
  const said = body === undefined ? undefined : JSON.stringify(body);
  let response: Response;
  try {
    response = await fetch(path, {
      method,
      cache: 'no-store',
      // An answer on its way when the page is closed is still delivered. Browsers do that for 64 KiB and refuse more.
      keepalive: changes && bytes === undefined && (said?.length ?? 0) < LONGEST_KEPT_ALIVE,
      signal: AbortSignal.timeout(TIME_LIMIT_MS),
      headers: changes ? {'Content-Type': bytes === undefined ? 'application/json' : 'application/octet-stream', 'X-Copunctal': '1'} : {},
      ...(bytes !== undefined ? {body: bytes} : said === undefined ? {} : {body: said}),
    });
  } catch {
    return {ok: false, trouble: unreached(path)};
  }
  return response.ok ? {ok: true, value: response} : {ok: false, trouble: await troubleFrom(response, path)};
}

async function json<T>(sent: Promise<Reply<Response>>, decoder: Decoder<T>, path: string): Promise<Reply<T>> {
  const reply = await sent;
  if (!reply.ok) return reply;
  try {
    return {ok: true, value: decoder(JSON.parse(await reply.value.text()), 'reply')};
  } catch (thrown) {
    return {ok: false, trouble: unreadable(path, thrown)};
  }
}

async function picture(fetch: Fetch, path: string, sizePx?: number): Promise<Reply<Picture>> {
  const reply = await send(fetch, 'GET', path);
  return reply.ok ? pictureOf(reply.value, path, sizePx) : reply;
}

async function seenPicture(fetch: Fetch, path: string): Promise<Reply<SeenPicture>> {
  const sent = await send(fetch, 'GET', path);
  if (!sent.ok) return sent;
  const read = await pictureOf(sent.value, path);
  if (!read.ok) return read;
  return {ok: true, value: {picture: read.value, method: sent.value.headers.get('X-Copunctal-View-Method')}};
}

async function pictureOf(response: Response, path: string, sizePx?: number): Promise<Reply<Picture>> {
  try {
    const bytes = new Uint8Array(await response.arrayBuffer());
    const {headers} = response;
    const found = pictureFrom(
      bytes, sizePx, viewErrorFrom(headers.get('X-Copunctal-View-Error')), colourSpaceFrom(headers.get('X-Copunctal-Colour-Space')),
    );
    if (found !== null) return {ok: true, value: found};
    return {ok: false, trouble: unreadable(path, new Unreadable('picture', `a square of pixels, not ${bytes.length} bytes`))};
  } catch {
    return {ok: false, trouble: unreached(path)};
  }
}

async function troubleFrom(response: Response, path: string): Promise<Trouble> {
  const seconds = Number(response.headers.get('Retry-After') ?? Number.NaN);
  const retryAfterMs = Number.isFinite(seconds) && seconds >= 0 ? seconds * 1000 : null;
  try {
    const {error} = errorBody(JSON.parse(await response.text()), 'error');
    return {...error, status: response.status, retryAfterMs};
  } catch {
    return {
      status: response.status, code: 'unreadable', thing: 'reply', place: path, retryAfterMs,
      message: `The program answered with status ${response.status} and no explanation.`,
      remedy: 'Load the page again; if it stays so, restart the program.',
    };
  }
}

function unreached(path: string): Trouble {
  return {
    status: 0, code: 'unreachable', thing: 'program', place: path, retryAfterMs: null,
    message: 'The program on this computer was not reached.',
    remedy: 'Check that it is still running, then try again.',
  };
}

/** The reply came, but it is not what docs/api.md promises; asking again would bring the same, so it counts as final. */
function unreadable(path: string, thrown: unknown): Trouble {
  const why = thrown instanceof Unreadable ? thrown.message : 'it is not JSON';
  return {
    status: 200, code: 'unreadable', thing: 'reply', place: path, retryAfterMs: null,
    message: `The program’s reply could not be read: ${why}.`,
    remedy: 'Load the page again; if it stays so, page and program may be of different versions.',
  };
}
