#!/usr/bin/env node
// A stand-in for `copunctal serve`, for work on the pages alone: docs/api.md in memory, with made-up plates.
//
//   node test/browser/mock_server.mjs serve --port 8471 [--data DIR]
//
// Nothing here knows colour science. Its plates are noise in two paints, what a plate holds is also hidden in the last
// bits of its first row for mock_eye.mjs, and its outcome comes from a toy likelihood. It keeps the contract (states,
// codes, idempotence), and nothing it says about an observer means anything.

import {createHash, randomBytes} from 'node:crypto';
import {readFile} from 'node:fs/promises';
import {createServer} from 'node:http';
import {dirname, extname, join} from 'node:path';
import {fileURLToPath} from 'node:url';
import {parseArgs} from 'node:util';

import {answerEyes} from './mock_eyes.mjs';

const DIST = join(dirname(fileURLToPath(import.meta.url)), '../../web/dist');
const SIZE_PX = 640;
const SYMBOLS = ['1', '2', '4', '7'];
const INTENDED_USE = 'teaching and demonstration in a supervised practical; not for diagnosis, screening, employment or fitness decisions.';
const WHOM_TO_SEE = 'Whoever wants to know about their own colour vision should see a licensed eye-care practitioner; what applies to a job is decided by local rules.';
const CSP = [
  "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' blob:", "connect-src 'self'", "form-action 'self'",
  "frame-ancestors 'none'", "base-uri 'none'", "object-src 'none'", "require-trusted-types-for 'script'",
].join('; ');
const OBSERVERS = ['normal', 'protan:10', 'protan:5', 'protan:0', 'deutan:10', 'deutan:5', 'deutan:0', 'tritan'];

// ---- Plates ---------------------------------------------------------------------------------------------------

const GLYPHS = {
  1: ['..#..', '.##..', '..#..', '..#..', '..#..', '..#..', '.###.'],
  2: ['.###.', '#...#', '....#', '..##.', '.#...', '#....', '#####'],
  4: ['...#.', '..##.', '.#.#.', '#..#.', '#####', '...#.', '...#.'],
  7: ['#####', '....#', '...#.', '..#..', '..#..', '.#...', '.#...'],
};
const PAINTS = {
  opener: [[122, 118, 104], [205, 198, 160]],
  vanishing: [[150, 132, 52], [126, 150, 54]],
  fork: [[142, 140, 120], [186, 118, 108], [170, 112, 140]],
  tritan: [[120, 150, 142], [140, 142, 118]],
};
const NAMES = [
  'calm river', 'quiet meadow', 'early frost', 'broad harbour', 'late barley', 'still pond', 'thin cloud', 'round hill', 'soft gravel',
  'north window', 'slow ferry', 'dry orchard', 'plain linen', 'low tide', 'old quarry', 'long shadow', 'warm slate', 'far lantern',
];

function plate(kind, aim, index) {
  const pick = (at) => SYMBOLS[(index * 7 + at * 3) % SYMBOLS.length];
  const drawn = kind === 'fork' ? [pick(0), pick(1)] : [pick(0)];
  return {id: randomHex(), kind, aim, name: NAMES[index % NAMES.length], drawn, seed: index + 1};
}

const SET = [
  ...['opener', 'opener'].map((kind, at) => plate(kind, null, at)),
  ...Array.from({length: 10}, (_, at) => plate('vanishing', ['dichromat', '5nm', '10nm'][at % 3], at + 2)),
  ...Array.from({length: 4}, (_, at) => plate('fork', '5nm', at + 12)),
  ...Array.from({length: 2}, (_, at) => plate('tritan', null, at + 16)),
];

function noise(seed) {
  let state = seed * 2654435761 >>> 0;
  return () => {
    state = (Math.imul(state ^ state >>> 15, 0x2c1b3c6d) + 0x9e3779b9) >>> 0;
    return (state ^ state >>> 13) / 2 ** 32 % 1;
  };
}

const drawings = new Map();

/** Pebbles by nearest of jittered points; which paint each takes, by where its point lies. */
function draw({kind, drawn, seed}) {
  const known = drawings.get(seed);
  if (known !== undefined) return known;
  const uniform = noise(seed);
  const side = 30, cells = Math.ceil(SIZE_PX / side);
  const points = Array.from({length: cells * cells}, (_, at) => ({
    x: (at % cells + 0.15 + 0.7 * uniform()) * side, y: (Math.floor(at / cells) + 0.15 + 0.7 * uniform()) * side, light: 0.78 + 0.34 * uniform(),
  }));
  for (const point of points) point.paint = paintAt(kind, drawn, point.x / SIZE_PX, point.y / SIZE_PX);
  const rgb = Buffer.alloc(3 * SIZE_PX * SIZE_PX, 150);
  for (let y = 0, to = 0; y < SIZE_PX; y++) {
    for (let x = 0; x < SIZE_PX; x++, to += 3) {
      let best = Infinity, second = Infinity, nearest = null;
      const column = Math.floor(x / side), row = Math.floor(y / side);
      for (let j = Math.max(0, row - 1); j <= Math.min(cells - 1, row + 1); j++) {
        for (let i = Math.max(0, column - 1); i <= Math.min(cells - 1, column + 1); i++) {
          const point = points[j * cells + i];
          const distance = Math.hypot(point.x - x, point.y - y);
          if (distance < best) { second = best; best = distance; nearest = point; } else if (distance < second) second = distance;
        }
      }
      const fromEdge = Math.min(x, y, SIZE_PX - 1 - x, SIZE_PX - 1 - y);
      if (second - best < 3 || fromEdge < 12 || cornerOut(x, y)) continue;
      const paint = PAINTS[kind][nearest.paint];
      for (let channel = 0; channel < 3; channel++) rgb[to + channel] = Math.min(255, Math.round(paint[channel] * nearest.light));
    }
  }
  const hidden = Buffer.from(JSON.stringify({kind, drawn}).padEnd(64));
  for (let bit = 0; bit < 512; bit++) rgb[3 * bit] = rgb[3 * bit] & 254 | hidden[bit >> 3] >> (7 - bit % 8) & 1;
  drawings.set(seed, rgb);
  return rgb;
}

function cornerOut(x, y) {
  const radius = 70, dx = Math.max(radius - x, x - SIZE_PX + radius, 0), dy = Math.max(radius - y, y - SIZE_PX + radius, 0);
  return Math.hypot(dx, dy) > radius - 12;
}

function paintAt(kind, drawn, x, y) {
  const boxes = kind === 'fork' ? [[0.1, 0.08, 0.38, 0.42], [0.52, 0.5, 0.38, 0.42]] : [[0.24, 0.14, 0.52, 0.72]];
  for (const [at, [left, top, width, height]] of boxes.entries()) {
    const column = Math.floor(5 * (x - left) / width), row = Math.floor(7 * (y - top) / height);
    if (GLYPHS[drawn[at]][row]?.[column] === '#') return at + 1;
  }
  return 0;
}

/** A made-up view: two channels mixed, so that the pages have two different pictures to show. */
function seenBy(rgb, observer) {
  if (observer === 'original' || observer === 'normal') return rgb;
  const view = Buffer.from(rgb);
  const [a, b] = observer === 'tritan' ? [1, 2] : [0, 1];
  for (let at = 0; at < view.length; at += 3) {
    const mixed = Math.round(0.35 * view[at + a] + 0.65 * view[at + b]);
    view[at + a] = mixed;
    view[at + b] = mixed;
  }
  return view;
}

function predict({kind, drawn}, observer) {
  const [name, nm = '28'] = observer.split(':');
  const redGreen = name === 'protan' || name === 'deutan';
  const blueYellow = name === 'tritan';
  const lost = {opener: false, vanishing: redGreen, fork: false, tritan: blueYellow}[kind];
  const seen = 0.985 - 0.0008 * Number(nm);
  const dim = 0.01 + 0.03 * Number(nm) / 10;
  const first = kind === 'fork' && name === 'deutan' ? dim : lost ? dim : seen;
  const second = kind !== 'fork' ? null : name === 'protan' ? dim : seen;
  const reads = [first > 0.5 ? drawn[0] : null, second !== null && second > 0.5 ? drawn[1] : null].filter((symbol) => symbol !== null);
  return {
    observer, reads: reads.length === 0 ? 'nothing' : reads.join(' and '), intended: first, second,
    nothing: Math.max(0, 0.98 - Math.max(first, second ?? 0)), other: 0.02,
    margins: `red-green ${lost && redGreen ? 0 : 6.1}, yellow-violet ${lost && blueYellow ? 0.1 : 4.4}, luminance 0.8 of 3.8 needed`,
  };
}

// ---- Practicals and sittings ------------------------------------------------------------------------------------

const practicals = new Map();
const sittings = new Map();

class Refusal extends Error {
  constructor(status, code, thing, message, remedy) {
    super(message);
    Object.assign(this, {status, code, thing, remedy});
  }
}
const invalid = (thing, message) => new Refusal(422, 'invalid', thing, message, 'Send what docs/api.md describes.');
const missing = (thing) => new Refusal(404, 'not_found', thing, `There is no such ${thing}.`, 'Go back to the start page.');

function only(body, keys) {
  for (const key of Object.keys(body)) if (!keys.includes(key)) throw invalid(key, `Unknown key ${key}.`);
}

function found(map, id, thing) {
  const value = map.get(id);
  if (value === undefined) throw missing(thing);
  return value;
}

function practicalJson(practical) {
  const {id, name, created_utc, exposure_ms} = practical;
  const count = [...sittings.values()].filter((sitting) => sitting.practical === practical).length;
  return {
    id, name, created_utc, display: 'srgb/oled', set_hash: createHash('sha256').update('mock').digest('hex'), plates: SET.length, exposure_ms,
    grace_ms: 10_000, sittings: count, state: 'open', loans: [], course: '', group: '', lateness: 'ignore', again: false, keep_until: null,
    intended_use: INTENDED_USE,
  };
}

function startPractical(body) {
  const {course: _course, group: _group, lateness: _lateness, again: _again, keep_until: _until, ...asked} = body;
  only(asked, ['name', 'exposure_ms']);
  const {name = NAMES[practicals.size % NAMES.length], exposure_ms = 3000} = body;
  if (typeof name !== 'string' || name === '' || name.length > 64) throw invalid('name', 'A name has 1 to 64 characters.');
  if (!(exposure_ms >= 1000 && exposure_ms <= 20_000)) throw invalid('exposure_ms', 'An exposure lasts 1000 to 20000 ms.');
  const practical = {id: randomHex(), name, exposure_ms, created_utc: new Date().toISOString()};
  practicals.set(practical.id, practical);
  return practicalJson(practical);
}

function startSitting(practical, body) {
  const {on_loan: _lot, off_record: _off, purposes: _purposes, examined: _examined, eye: _eye, ...rest} = body;
  only(rest, ['consent', 'tell', 'sex_at_birth']);
  if (body.consent !== true) throw invalid('consent', 'A sitting needs consent.');
  if (!['tell', 'dont_tell', 'later'].includes(body.tell)) throw invalid('tell', 'tell is tell, dont_tell or later.');
  const vanishing = SET.filter((candidate) => candidate.kind === 'vanishing');
  const [first, second] = SET.filter((candidate) => candidate.kind === 'opener');
  const rounds = [
    ['warm-up', 1, [first]], ['first', 1, [...vanishing.slice(0, 5), second, ...vanishing.slice(5)]],
    ['which-kind', 2, SET.filter((candidate) => candidate.kind === 'fork')], ['blue-yellow', 1, SET.filter((candidate) => candidate.kind === 'tritan')],
  ];
  let item = 0;
  const sitting = {
    id: randomHex(), practical, tell: body.tell, answers: new Map(), sex: body.sex_at_birth,
    rounds: rounds.map(([name, figures, plates]) => ({name, figures, items: plates.map((shown) => ({item: item++, plate: randomHex(), shown}))})),
  };
  sittings.set(sitting.id, sitting);
  return stateOf(sitting);
}

function isMiss(sitting, {item, shown}) {
  const answer = [...sitting.answers.values()].find((candidate) => candidate.item === item);
  return answer === undefined || answer.symbols.join() !== [...shown.drawn].sort().join();
}

/** The rounds of this sitting as far as they are known: the which-kind round comes only after a miss in the first. */
function reached(sitting) {
  const done = (round) => round.items.every(({item}) => [...sitting.answers.values()].some((answer) => answer.item === item));
  const rounds = [];
  for (const round of sitting.rounds) {
    if (round.name === 'which-kind' && !sitting.rounds[1].items.some((item) => isMiss(sitting, item))) continue;
    rounds.push(round);
    if (!done(round)) return {rounds, current: round};
  }
  return {rounds, current: null};
}

function stateOf(sitting) {
  const {rounds, current} = reached(sitting);
  const answered = new Set([...sitting.answers.values()].map((answer) => answer.item));
  return {
    sitting: sitting.id, practical: sitting.practical.id, practical_name: sitting.practical.name, pseudonym: 'quiet harbour', on_loan: false, off_record: false, examined: false, eye: 'both', made_for: 'srgb/oled', state: current === null ? 'ended' : 'running',
    tell: sitting.tell, size_px: SIZE_PX, exposure_ms: sitting.practical.exposure_ms, grace_ms: 10_000, family: 'digits', symbols: SYMBOLS, answered: answered.size,
    round: current && {
      name: current.name, place: rounds.length, of: 4, figures: current.figures,
      items: current.items.map(({item, plate: id}) => ({item, plate: id, answered: answered.has(item), repeat: false})),
    },
  };
}

function takeAnswer(sitting, answerId, body) {
  const {dropped: _dropped, ...answer} = body;
  only(answer, ['item', 'symbols', 'end', 'onset_ms', 'response_ms', 'shown_ms', 'frames', 'hidden', 'page_load']);
  const known = sitting.answers.get(answerId);
  if (known !== undefined) {
    if (JSON.stringify(known) === JSON.stringify(body)) return {status: 'duplicate', state: stateOf(sitting)};
    throw new Refusal(409, 'conflict', 'answer', 'This answer was stored with another content.', 'Nothing to do: the first one counts.');
  }
  const {rounds, current} = reached(sitting);
  if (current === null) throw new Refusal(410, 'gone', 'sitting', 'The sitting has ended; the answer was kept and flagged late.', 'Nothing to do.');
  const round = rounds.find((candidate) => candidate.items.some(({item}) => item === body.item));
  if (round === undefined) throw invalid('item', 'This item is not in a round reached yet.');
  if ([...sitting.answers.values()].some((answer) => answer.item === body.item)) {
    throw new Refusal(409, 'conflict', 'answer', 'This plate already has an answer.', 'Nothing to do: the first one counts.');
  }
  const sorted = [...body.symbols].sort();
  const spoken = body.end === 'answered' || body.end === 'late';
  if (sorted.join() !== body.symbols.join() || new Set(sorted).size !== sorted.length || sorted.length > round.figures
    || !sorted.every((symbol) => SYMBOLS.includes(symbol))) throw invalid('symbols', 'These symbols are not an answer.');
  if (spoken !== (body.response_ms !== null) || (!spoken && sorted.length > 0)) throw invalid('response_ms', 'A response and its time belong together.');
  if (!/^[0-9a-f]{32}$/.test(answerId) || !/^[0-9a-f]{32}$/.test(body.page_load)) throw invalid('answer', 'An id has 32 hexadecimal digits.');
  sitting.answers.set(answerId, body);
  return {status: 'stored', state: stateOf(sitting)};
}

// ---- Outcome ------------------------------------------------------------------------------------------------------

function outcomeOf(sitting) {
  if (reached(sitting).current !== null) throw new Refusal(409, 'conflict', 'sitting', 'The sitting is still running.', 'Finish it first.');
  const caution = {intended_use: INTENDED_USE, whom_to_see: WHOM_TO_SEE};
  if (sitting.tell !== 'tell') return {told: false, can_choose: sitting.tell === 'later', waits: false, caution};
  const {rounds} = reached(sitting);
  const shown = rounds.flatMap((round) => round.items.map((item) => ({...item, round: round.name})));
  const answerTo = (item) => [...sitting.answers.values()].find((answer) => answer.item === item);
  const evidence = OBSERVERS.map((observer) => ({observer, log10_likelihood: shown.reduce((sum, {item, shown: drawnPlate}) => {
    const answer = answerTo(item);
    if (answer.end === 'interrupted') return sum;
    const {intended, second} = predict(drawnPlate, observer);
    const one = (symbol, probability) => Math.log10(answer.symbols.includes(symbol) ? probability : 1 - probability);
    return sum + one(drawnPlate.drawn[0], intended) + (second === null ? 0 : one(drawnPlate.drawn[1], second));
  }, 0)}));
  evidence.sort((a, b) => b.log10_likelihood - a.log10_likelihood);
  for (const row of evidence) row.relative = 10 ** (row.log10_likelihood - evidence[0].log10_likelihood);
  const support = (kind) => Math.max(...evidence.filter((row) => row.observer.split(':')[0] === kind).map((row) => row.relative));
  const priors = {normal: 0.957, protan: 0.0105, deutan: 0.0315, tritan: 0.001};
  const weighed = (weights) => {
    const total = Object.entries(weights).reduce((sum, [kind, weight]) => sum + weight * support(kind), 0);
    return (kind) => weights[kind] * support(kind) / total;
  };
  const alone = weighed({normal: 1, protan: 1, deutan: 1, tritan: 1}), both = weighed(priors);
  const kinds = Object.keys(priors).map((kind) => ({kind, evidence_only: alone(kind), prior: priors[kind], posterior: both(kind)}));
  const likeliest = kinds.reduce((best, row) => (row.posterior > best.posterior ? row : best));
  const verdict = likeliest.posterior > 0.8 ? likeliest.kind : 'cannot tell';
  const grid = [28, 24, 20, 16, 12, 10, 8, 5, 2, 0];
  const strip = (sharpness) => {
    const weights = grid.map((nm) => Math.exp(-nm / sharpness));
    const total = weights.reduce((sum, weight) => sum + weight, 0);
    return grid.map((nm, at) => ({separation_nm: nm, probability: weights[at] / total}));
  };
  return {
    told: true, lent: null, interpretable: true, caution, verdict,
    summary: verdict === 'cannot tell' ? 'these answers do not single out one kind of eye'
      : `the answers are explained best by the kind “${verdict}”, with a probability of ${likeliest.posterior.toFixed(2)} once it is weighed how common each kind is`,
    evidence, kinds, separation: {protan: strip(4), deutan: strip(9)},
    prior_text: 'The prior is the share of each kind in a mixed group of women and men; it was made up for this stand-in.',
    assumptions: ['Made-up numbers from a stand-in for the program', 'The display shows the colours that were asked for', 'Both eyes see alike'],
    plates: shown.map(({item, round, shown: drawnPlate}) => {
      const answer = answerTo(item);
      return {
        item, round, name: drawnPlate.name, kind: drawnPlate.kind, aim: drawnPlate.aim, drawn: drawnPlate.drawn, answered: answer.symbols,
        end: answer.end, void: false, repeat: false, hesitated: false, first_symbols: null, line: null, flaw: null,
        as_drawn: !isMiss(sitting, {item, shown: drawnPlate}), predictions: OBSERVERS.map((observer) => predict(drawnPlate, observer)),
      };
    }),
    again: [],
  };
}

// ---- HTTP -----------------------------------------------------------------------------------------------------------

function randomHex() {
  return randomBytes(16).toString('hex');
}

async function readBody(request) {
  const chunks = [];
  for await (const chunk of request) chunks.push(chunk);
  const text = Buffer.concat(chunks).toString('utf8');
  if (text === '') return {};
  try {
    return JSON.parse(text);
  } catch {
    throw new Refusal(400, 'bad_request', 'body', 'The body is not JSON.', 'Send JSON.');
  }
}

const json = (status, body) => ({status, type: 'application/json', body: Buffer.from(JSON.stringify(body))});
const bytes = (body) => ({status: 200, type: 'application/octet-stream', body});

async function answerApi(request, url) {
  const {method} = request;
  const path = url.pathname.split('/').slice(2);
  if (method !== 'GET' && (request.headers['x-copunctal'] !== '1' || request.headers['content-type'] !== 'application/json')) {
    throw new Refusal(403, 'forbidden', 'request', 'A change needs its two headers.', 'Use the pages.');
  }
  const body = method === 'GET' ? {} : await readBody(request);
  const eyes = answerEyes({
    method, path, search: url.searchParams, body, makeId: randomHex, intendedUse: INTENDED_USE, refuse: invalid, missing,
    draw: (which) => draw(SET.find((candidate) => candidate.kind === (which === 'plate' ? 'vanishing' : 'fork'))),
  });
  if (eyes !== null) return eyes;
  const [kind, id, part, partId, itemId] = path;
  const route = `${method} ${kind}${id === undefined ? '' : '/:id'}${part === undefined ? '' : `/${part}`}${partId === undefined ? '' : '/:part'}`;
  switch (route) {
    case 'GET health': return json(200, {ok: true});
    case 'GET practicals': return json(200, {practicals: [...practicals.values()].reverse().map(practicalJson)});
    case 'GET about': return json(200, {role: 'instructor', transport: 'loopback', joining: 'none', device: null, serves: 'practicals', intended_use: INTENDED_USE});
    case 'GET open-practicals': return json(200, {
      practicals: [...practicals.values()].map((practical) => ({id: practical.id, name: practical.name, plates: practicalJson(practical).plates,
        exposure_ms: practical.exposure_ms, lends: false})), intended_use: INTENDED_USE,
    });
    case 'POST practicals': return json(201, startPractical(body));
    case 'POST practicals/:id/sittings': return json(201, startSitting(found(practicals, id, 'practical'), body));
    case 'GET sittings/:id': return json(200, stateOf(found(sittings, id, 'sitting')));
    case 'DELETE sittings/:id':
      found(sittings, id, 'sitting');
      sittings.delete(id);
      return {status: 204, type: 'application/json', body: Buffer.alloc(0)};
    case 'GET sittings/:id/plates/:part': {
      const items = reached(found(sittings, id, 'sitting')).rounds.flatMap((round) => round.items);
      const item = items.find((candidate) => candidate.plate === partId);
      if (item === undefined) throw missing('plate');
      return bytes(draw(item.shown));
    }
    case 'PUT sittings/:id/answers/:part': return json(200, takeAnswer(found(sittings, id, 'sitting'), partId, body));
    case 'PUT sittings/:id/choice': {
      const sitting = found(sittings, id, 'sitting');
      if (sitting.tell !== 'later') throw new Refusal(409, 'conflict', 'choice', 'The choice has been made.', 'Nothing to do.');
      sitting.tell = body.tell;
      return json(200, stateOf(sitting));
    }
    case 'GET sittings/:id/outcome': return json(200, outcomeOf(found(sittings, id, 'sitting')));
    case 'GET sittings/:id/outcome/:part': {
      const sitting = found(sittings, id, 'sitting');
      if (sitting.tell !== 'tell') throw new Refusal(403, 'forbidden', 'outcome', 'The outcome was not asked for.', 'Nothing to do.');
      const item = sitting.rounds.flatMap((round) => round.items).find((candidate) => candidate.item === Number(itemId));
      if (item === undefined) throw missing('plate');
      const as = url.searchParams.get('as') ?? 'original';
      const dichromat = as === 'tritan' || as.endsWith(':0');
      return {...bytes(seenBy(draw(item.shown), as)), headers: dichromat ? {'X-Copunctal-View-Error': '0.21 0.8 2.4'} : {}};
    }
    default: throw missing('page');
  }
}

async function answerPage(url) {
  const types = {'.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml', '.html': 'text/html; charset=utf-8'};
  const name = /^\/assets\/[\w.-]+$/.test(url.pathname) ? url.pathname.slice(1) : 'index.html';
  return {status: 200, type: types[extname(name)], body: await readFile(join(DIST, name))};
}

async function handle(request, response) {
  const url = new URL(request.url, 'http://localhost');
  let reply;
  try {
    reply = url.pathname.startsWith('/api/') ? await answerApi(request, url) : await answerPage(url);
  } catch (thrown) {
    const refusal = thrown instanceof Refusal ? thrown : new Refusal(500, 'internal', 'stand-in', String(thrown), 'Read its log.');
    if (!(thrown instanceof Refusal)) console.error(thrown);
    const {status, code, thing, message, remedy} = refusal;
    reply = json(status, {error: {code, thing, place: url.pathname, message, remedy}});
  }
  response.writeHead(reply.status, {
    'Content-Type': reply.type, 'Content-Security-Policy': CSP, 'X-Content-Type-Options': 'nosniff', 'Cache-Control': 'no-store',
    'Referrer-Policy': 'no-referrer', 'Cross-Origin-Opener-Policy': 'same-origin', 'Cross-Origin-Embedder-Policy': 'require-corp',
    'Cross-Origin-Resource-Policy': 'same-origin', ...reply.headers,
  });
  response.end(reply.body);
}

const {values} = parseArgs({allowPositionals: true, options: {port: {type: 'string', default: '8471'}, data: {type: 'string'}}});
const server = createServer((request, response) => void handle(request, response));
server.listen(Number(values.port), '127.0.0.1', () => {
  console.log(`Copunctal is ready at http://127.0.0.1:${server.address().port}/`);
});
process.on('SIGTERM', () => { server.close(() => process.exit(0)); server.closeAllConnections(); });
