// The eye and display routes of mock_server.mjs: an eye by its cone curves, and records of the screen, in memory.
//
// The normal's curves are the table of data/; everything else is made up so that the pages have something that moves:
// a deviating curve is a blend of two, and copunctal points and matches are round numbers.

import {readFileSync} from 'node:fs';
import {dirname, join} from 'node:path';
import {fileURLToPath} from 'node:url';

const DATA = join(dirname(fileURLToPath(import.meta.url)), '../../data');
const KINDS = ['normal', 'protan', 'deutan', 'tritan', 's-cone-monochromat', 'rod-monochromat'];
const TRAITS = {age: [0, 120, 32], field: [0.1, 90, 2], 'density-l': [0, 3, 0.5], 'density-m': [0, 3, 0.5], 'density-s': [0, 3, 0.4]};
const DISPLAYS = [
  {name: 'srgb/oled', status: 'assumed', words: 'sRGB primaries with spectra as of an OLED screen; assumed, not measured.'},
  {name: 'srgb/wled', status: 'assumed', words: 'sRGB primaries with spectra as of a screen lit by white LEDs; assumed, not measured.'},
  {name: 'display-p3/qd', status: 'profile', words: 'Primaries and curves from a profile; spectra assumed.'},
  {name: 'lab/spectrometer', status: 'measured', words: 'Spectra measured in front of this screen.'},
];
const TRIANGLES = {
  srgb: [[0.64, 0.33], [0.3, 0.6], [0.15, 0.06]], 'display-p3': [[0.68, 0.32], [0.265, 0.69], [0.15, 0.06]], lab: [[0.66, 0.32], [0.28, 0.64], [0.15, 0.06]],
};
const WHITE = [0.3127, 0.329];
const COPUNCTAL = {protan: [0.747, 0.253], deutan: [1.4, -0.4], tritan: [0.171, 0]};

function table(name, step, last) {
  return readFileSync(join(DATA, name), 'utf8').split('\n').filter((line) => /^\d/.test(line)).map((line) => line.split(',').map(Number))
    .filter(([nm]) => nm >= 390 && nm <= last && nm % step === 0);
}

let tables = null;
function known() {
  tables ??= {lms: table('lms_cie2006_2deg.csv', 5, 730), xyz: table('xyz1931.csv', 5, 700)};
  return tables;
}

/** Reads an observer as the program spells it; `refuse(thing, message)` makes the error. */
function observerOf(text, refuse) {
  const [head, ...options] = text.split(',');
  const [kind, separation] = head.split(':');
  if (!KINDS.includes(kind)) throw refuse('observer', `There is no observer “${kind}”.`);
  const observer = {kind, separation: kind === 'protan' || kind === 'deutan' ? Number(separation ?? 0) : 28, s: kind === 'tritan' ? 0 : 1};
  if (!(observer.separation >= 0 && observer.separation <= 28)) throw refuse('separation', `A separation lies between 0 and 28 nm, not at ${separation}.`);
  for (const option of options) {
    const [name, written] = option.split('=');
    if (name === 's-density' && kind === 'tritan') observer.s = Number(written);
    else if (name in TRAITS) observer[name] = Number(written);
    else throw refuse('observer', `There is no option “${name}”.`);
    const [least, most] = name === 's-density' ? [0, 1] : TRAITS[name];
    if (!(Number(written) >= least && Number(written) <= most)) throw refuse(name, `${name} lies between ${least} and ${most}, not at ${written}.`);
  }
  return observer;
}

function curvesOf({kind, separation, s, age = 32}) {
  const {lms} = known();
  const share = separation / 28;
  const dim = (nm, value) => value * (1 - Math.max(0, age - 20) / 160 * Math.max(0, (480 - nm) / 90));
  const peak = (curve) => {
    const most = Math.max(...curve);
    return most === 0 ? curve : curve.map((value) => Number((value / most).toPrecision(5)));
  };
  const blend = (own, other) => lms.map((row) => dim(row[0], row[other] ** (1 - share) * row[own] ** share));
  const plain = (at) => lms.map((row) => dim(row[0], row[at]));
  if (kind === 's-cone-monochromat' || kind === 'rod-monochromat') return {l: peak(plain(3)), m: peak(plain(3)), s: peak(plain(3))};
  return {l: peak(kind === 'protan' ? blend(1, 2) : plain(1)), m: peak(kind === 'deutan' ? blend(2, 1) : plain(2)), s: peak(plain(3).map((value) => (s === 0 ? 0 : value)))};
}

const PROJECTIONS = {
  xy: {axes: ['x', 'y'], range: [[0, 0.8], [0, 0.9]], of: (xy) => xy},
  "u'v'": {axes: ["u'", "v'"], range: [[0, 0.65], [0, 0.6]], of: ([x, y]) => [4 * x / (3 - 2 * x + 12 * y), 9 * y / (3 - 2 * x + 12 * y)]},
  'macleod-boynton': {axes: ['l', 's'], range: [[0.5, 1], [0, 1]], of: ([x, y]) => {
    const z = 1 - x - y, l = 0.15514 * x + 0.54312 * y - 0.03286 * z, m = -0.15514 * x + 0.45684 * y + 0.03286 * z;
    return [l / (l + m), 0.016 * z / (l + m)];
  }},
};

/** The part of the straight line through two points that lies within a range. */
function cut([ax, ay], [bx, by], [[left, right], [low, high]]) {
  let from = -1e6, to = 1e6;
  for (const [start, step, least, most] of [[ax, bx - ax, left, right], [ay, by - ay, low, high]]) {
    if (Math.abs(step) < 1e-12) continue;
    const ends = [(least - start) / step, (most - start) / step].sort((a, b) => a - b);
    from = Math.max(from, ends[0]);
    to = Math.min(to, ends[1]);
  }
  return [from, to].map((t) => [ax + t * (bx - ax), ay + t * (by - ay)]);
}

function diagramOf(name, {axes, range, of}, observer, display, at) {
  const {xyz} = known();
  const project = (xy) => of(xy).map((value) => Number(value.toFixed(5)));
  const here = project(at);
  const copunctal = Object.entries(COPUNCTAL).map(([kind, xy]) => {
    if (name === 'macleod-boynton') {
      const point = {protan: [1, 0], deutan: [0, 0], tritan: null}[kind];
      return {kind, point, inside: kind === 'protan'};
    }
    const point = project(xy);
    return {kind, point, inside: point[0] >= range[0][0] && point[0] <= range[0][1] && point[1] >= range[1][0] && point[1] <= range[1][1]};
  });
  const own = observer.kind === 'tritan' ? observer.s < 1 : observer.separation < 28;
  return {
    name, axes, range, locus: xyz.map(([nm, x, y, z]) => [nm, ...project([x / (x + y + z), y / (x + y + z)])]),
    triangle: (TRIANGLES[display.split('/')[0]] ?? TRIANGLES.srgb).map(project), white: project(WHITE), at: here,
    lines: copunctal.map(({kind, point}) => {
      const towards = point ?? [here[0], here[1] + 1];
      return {
        kind, own: own && kind === observer.kind, points: cut(here, towards, range),
        angle_deg: Math.round(10 * Math.atan2(towards[1] - here[1], towards[0] - here[0]) * 180 / Math.PI) / 10,
      };
    }),
    copunctal,
  };
}

function displayOf(name, refuse) {
  const display = DISPLAYS.find((candidate) => candidate.name === (name ?? 'srgb/oled'));
  if (display === undefined) throw refuse('display', `There is no display “${name}”.`);
  return display;
}

function eyeOf(search, intendedUse, refuse) {
  const text = search.get('observer') ?? 'normal';
  const observer = observerOf(text, refuse);
  const display = displayOf(search.get('display'), refuse);
  const at = search.get('at')?.split(',').map(Number) ?? WHITE;
  if (at.length !== 2 || !at.every(Number.isFinite)) throw refuse('at', 'A chromaticity is two numbers, as in 0.31,0.33.');
  const {separation, kind, s} = observer;
  const trait = (name) => observer[name] ?? TRAITS[name][2];
  const redGreen = separation < 28;
  const width = redGreen ? 0.02 + 0.55 * (1 - separation / 28) ** 2 : 0.02;
  const x = kind === 'protan' ? 0.43 + 0.3 * (1 - separation / 28) : kind === 'deutan' ? 0.43 - 0.25 * (1 - separation / 28) : 0.43;
  const all = redGreen && separation === 0;
  const normal = curvesOf({kind: 'normal', separation: 28, s: 1, age: trait('age')});
  const none = kind.endsWith('monochromat');
  return {
    observer: text, kind, separation_nm: separation, s_density: s, age: trait('age'), field: trait('field'),
    density: {l: trait('density-l'), m: trait('density-m'), s: trait('density-s') * s},
    display: display.name, display_status: display.status, display_words: display.words,
    notes: [
      ...(trait('age') > 80 || trait('age') < 20 ? ['Age was taken as within 20 to 80 years.'] : []),
      ...(kind === 'tritan' && s > 0 ? ['A tritan with some S pigment left is illustrative.'] : []), 'Numbers made up by a stand-in for the program.',
    ],
    nm: known().lms.map(([nm]) => nm), curves: curvesOf(observer), normal,
    peaks_nm: {
      l: 570 - (kind === 'protan' ? 27 * (1 - separation / 28) : 0), m: 543 + (kind === 'deutan' ? 27 * (1 - separation / 28) : 0), s: s === 0 ? null : 442,
    },
    diagrams: Object.entries(PROJECTIONS).map(([name, projection]) => diagramOf(name, projection, observer, display.name, at)),
    neutral_nm: redGreen && separation === 0 ? {display_white: 491.9, d65: 491 + (kind === 'deutan' ? 6 : 0)} : {display_white: null, d65: null},
    rayleigh: {
      x: all || none ? 0.43 : x, y: kind === 'protan' ? 0.6 : 1, range: all || none ? [0, 1] : [Math.max(0, x - width / 2), Math.min(1, x + width / 2)],
      quotient: all || none ? null : (1 - x) / x / (0.57 / 0.43), normal: {x: 0.43, y: 1}, mixture: {code: [180, 140, 0], in_gamut: false},
      words: all || none ? 'Any mixture matches once the yellow is set.' : redGreen ? 'The match lies away from a normal’s.' : 'The match of a normal observer.',
    },
    intended_use: intendedUse,
  };
}

/** Bytes of a picture, 320 px square, from one of 640. */
function halved(rgb) {
  const half = Buffer.alloc(3 * 320 * 320);
  for (let y = 0; y < 320; y++) {
    for (let x = 0; x < 320; x++) {
      for (let channel = 0; channel < 3; channel++) {
        const at = (row, column) => rgb[3 * ((2 * y + row) * 640 + 2 * x + column) + channel];
        half[3 * (y * 320 + x) + channel] = Math.round((at(0, 0) + at(0, 1) + at(1, 0) + at(1, 1)) / 4);
      }
    }
  }
  return half;
}

function seenBy(rgb, {kind, separation, s}) {
  const share = kind === 'tritan' ? 1 - s : kind.endsWith('monochromat') ? 1 : 1 - separation / 28;
  const [a, b] = kind === 'tritan' ? [1, 2] : [0, 1];
  const weight = kind === 'protan' ? 0.3 : 0.6;
  const view = Buffer.from(rgb);
  for (let at = 0; at < view.length; at += 3) {
    const mixed = weight * view[at + a] + (1 - weight) * view[at + b];
    view[at + a] = Math.round(view[at + a] * (1 - share) + mixed * share);
    view[at + b] = Math.round(view[at + b] * (1 - share) + mixed * share);
  }
  return view;
}

const halves = new Map();
function pictureOf(search, draw, refuse) {
  const which = search.get('picture') ?? 'pebbles';
  if (which !== 'pebbles' && which !== 'plate') throw refuse('picture', `There is no picture “${which}”.`);
  displayOf(search.get('display'), refuse);
  if (!halves.has(which)) halves.set(which, halved(draw(which)));
  const text = search.get('observer') ?? 'original';
  if (text === 'original') return {body: halves.get(which), headers: {}};
  const observer = observerOf(text, refuse);
  const dichromat = observer.kind === 'tritan' ? observer.s === 0 : observer.separation === 0;
  return {
    body: seenBy(halves.get(which), observer),
    headers: {
      'X-Copunctal-View-Method': observer.kind === 'tritan' ? 'half-planes' : dichromat ? 'plane' : 'substitution',
      ...(dichromat ? {'X-Copunctal-View-Error': '0.12 0.45 1.93'} : {}),
    },
  };
}

// ---- Records of the screen ------------------------------------------------------------------------------------------

const KEYS = [
  'display', 'card_px', 'device_pixel_ratio', 'screen_px', 'screen_at', 'colour_depth', 'gamut', 'tone_matches', 'black_step', 'white_step', 'neutral',
  'night_mode_off', 'adapted', 'room_light', 'statement', 'refresh_hz', 'frame_spread_ms', 'dropped_frames',
];
const records = new Map();
let current = null;

function makeRecord(body, makeId, intendedUse, refuse) {
  for (const key of Object.keys(body)) if (!KEYS.includes(key)) throw refuse(key, `Unknown key ${key}.`);
  for (const key of KEYS) if (!(key in body)) throw refuse(key, `The key ${key} is missing.`);
  displayOf(body.display, refuse);
  const one = (value, allowed) => allowed.includes(value);
  const number = (value, least, most) => typeof value === 'number' && value >= least && value <= most;
  const rules = {
    card_px: body.card_px === null || number(body.card_px, 50, 5000), device_pixel_ratio: number(body.device_pixel_ratio, 0.1, 10),
    screen_px: body.screen_px.length === 2, screen_at: body.screen_at.length === 2, colour_depth: number(body.colour_depth, 1, 64),
    gamut: one(body.gamut, ['srgb', 'p3', 'rec2020']),
    tone_matches: body.tone_matches.every(({channel, share, code}) => one(channel, ['r', 'g', 'b']) && one(share, [0.25, 0.5, 0.75]) && Number.isInteger(code) && number(code, 0, 255)),
    black_step: body.black_step === null || number(body.black_step, 0, 255), white_step: body.white_step === null || number(body.white_step, 0, 255),
    neutral: one(body.neutral, ['neutral', 'tinted', null]), night_mode_off: typeof body.night_mode_off === 'boolean', adapted: typeof body.adapted === 'boolean',
    room_light: one(body.room_light, ['dim', 'office', 'bright', null]), statement: typeof body.statement === 'string' && body.statement.length <= 200,
    refresh_hz: body.refresh_hz === null || number(body.refresh_hz, 1, 1000),
  };
  for (const [key, holds] of Object.entries(rules)) if (!holds) throw refuse(key, `${key} is not what it should be.`);
  const made = new Date();
  const pixels = body.card_px === null ? null : body.card_px * body.device_pixel_ratio / 85.6;
  const gamma = (channel) => {
    const matches = body.tone_matches.filter((match) => match.channel === channel && match.code > 0 && match.code < 255);
    if (matches.length === 0) return null;
    const mean = matches.reduce((sum, {share, code}) => sum + Math.log(share) / Math.log(code / 255), 0) / matches.length;
    return {gamma: Number(mean.toFixed(2)), rms_codes: 1.3};
  };
  const tone = body.tone_matches.length === 0 ? null : {r: gamma('r'), g: gamma('g'), b: gamma('b')};
  const finding = (what, state, words) => ({what, state, words});
  const record = {
    record: makeId(), made_utc: made.toISOString(), expires_utc: new Date(made.getTime() + 30 * 86_400_000).toISOString(), valid: true, ended: null,
    status: 'assumed', words: tone === null ? `Assumed ${body.display}; its tone curve was not checked.` : `Assumed ${body.display}; its tone curve was checked by eye.`,
    pixels_per_mm: pixels, tone,
    findings: [
      finding('size', pixels === null ? 'note' : 'fine', pixels === null ? 'Not done: sizes on this screen are not known.' : `${pixels.toFixed(2)} device pixels a millimetre.`),
      finding('tone curve', tone === null ? 'note' : 'fine', tone === null ? 'Not done: the curve is assumed.' : `Exponents ${['r', 'g', 'b'].map((of) => tone[of]?.gamma ?? 'not done').join(', ')}.`),
      finding('black', body.black_step === null ? 'note' : body.black_step > 8 ? 'mend' : 'fine', body.black_step === null ? 'Not done.' : `Code ${body.black_step} is the first seen.`),
      finding('night mode', body.night_mode_off ? 'fine' : 'mend', body.night_mode_off ? 'Off.' : 'Not said to be off: turn it off and check again.'),
    ],
    asked: body, intended_use: intendedUse,
  };
  if (current !== null && current.ended === null) Object.assign(current, {valid: false, ended: 'replaced'});
  records.set(record.record, record);
  current = record;
  return record;
}

/** Answers one of these routes, or null. */
export function answerEyes({method, path, search, body, draw, makeId, intendedUse, refuse, missing}) {
  const [kind, id, part] = path;
  const json = (status, value) => ({status, type: 'application/json', body: Buffer.from(JSON.stringify(value))});
  if (method === 'GET' && kind === 'displays' && id === undefined) return json(200, {displays: DISPLAYS});
  if (method === 'GET' && kind === 'eye' && id === undefined) return json(200, eyeOf(search, intendedUse, refuse));
  if (method === 'GET' && kind === 'eye' && id === 'picture') return {status: 200, type: 'application/octet-stream', ...pictureOf(search, draw, refuse)};
  if (kind !== 'display-records') return null;
  if (method === 'POST' && id === undefined) return json(201, makeRecord(body, makeId, intendedUse, refuse));
  if (method === 'GET' && id === 'current') return json(200, {current});
  if (method === 'POST' && part === 'end') {
    const record = records.get(id);
    if (record === undefined) throw missing('display record');
    if (!['zoom', 'moved', 'mode'].includes(body.reason)) throw refuse('reason', 'A record ends by zoom, moved or mode.');
    if (record.ended === null) Object.assign(record, {valid: false, ended: body.reason});
    return json(200, record);
  }
  return null;
}
