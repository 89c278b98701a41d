import {expect, test} from 'vitest';

import {createApi, type Fetch} from './client.ts';

const id = '0123456789abcdef0123456789abcdef';
const state = {
  sitting: id, practical: id, practical_name: 'calm river', pseudonym: 'quiet harbour', on_loan: false, off_record: false, made_for: 'srgb/oled', state: 'ended', tell: 'later', size_px: 640, exposure_ms: 3000,
  grace_ms: 10_000, family: 'digits', symbols: ['1', '2'], answered: 3, round: null,
};
const body = {
  item: 0, symbols: ['1'], end: 'answered' as const, onset_ms: 1, response_ms: 2, shown_ms: 1, frames: 1, hidden: false, page_load: id,
};

function recorder(response: () => Response): {readonly fetch: Fetch; readonly calls: [string, RequestInit][]} {
  const calls: [string, RequestInit][] = [];
  return {calls, fetch: (address, init) => { calls.push([address, init]); return Promise.resolve(response()); }};
}

test('an answer is put under its own id, with the headers a change needs', async () => {
  const {fetch, calls} = recorder(() => Response.json({status: 'stored', state}));
  const reply = await createApi(fetch).answer(id, {id: 'f'.repeat(32), body});
  expect(reply).toMatchObject({ok: true, value: {status: 'stored', state: {answered: 3}}});
  expect(calls[0]?.[0]).toBe(`/api/sittings/${id}/answers/${'f'.repeat(32)}`);
  expect(calls[0]?.[1]).toMatchObject({method: 'PUT', headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}});
  expect(JSON.parse(String(calls[0]?.[1].body))).toEqual(body);
});

test('consent is always said, and nothing unknown with it', async () => {
  const {fetch, calls} = recorder(() => Response.json(state));
  await createApi(fetch).startSitting(id, {tell: 'later', sex_at_birth: null});
  expect(JSON.parse(String(calls[0]?.[1].body))).toEqual({consent: true, tell: 'later', sex_at_birth: null});
});

test('the one shape of errors comes through with its status and waiting time', async () => {
  const error = {code: 'unavailable', thing: 'store', place: '/x', message: 'Disk full.', remedy: 'Make room.'};
  const {fetch} = recorder(() => Response.json({error}, {status: 503, headers: {'Retry-After': '2'}}));
  expect(await createApi(fetch).sitting(id)).toEqual({ok: false, trouble: {...error, status: 503, retryAfterMs: 2000}});
});

test('an error without that shape is still a named trouble', async () => {
  const {fetch} = recorder(() => new Response('<html>', {status: 502}));
  expect(await createApi(fetch).sitting(id)).toMatchObject({ok: false, trouble: {status: 502, code: 'unreadable'}});
});

test('no connection is status 0', async () => {
  const reply = await createApi(() => Promise.reject(new TypeError('no route'))).practicals();
  expect(reply).toMatchObject({ok: false, trouble: {status: 0, code: 'unreachable'}});
});

test('a reply of another shape names the place', async () => {
  const {fetch} = recorder(() => Response.json({...state, answered: -1}));
  expect(await createApi(fetch).sitting(id)).toMatchObject({
    ok: false, trouble: {message: expect.stringContaining('reply.answered should be a whole number') as string},
  });
});

test('a picture of another size than promised is refused', async () => {
  const {fetch} = recorder(() => new Response(new Uint8Array(12)));
  expect(await createApi(fetch).plate(id, id, 2)).toMatchObject({ok: true, value: {sizePx: 2}});
  expect(await createApi(fetch).plate(id, id, 3)).toMatchObject({ok: false, trouble: {code: 'unreadable'}});
});

test('an observer is escaped in the address', async () => {
  const {fetch, calls} = recorder(() => new Response(new Uint8Array(12)));
  await createApi(fetch).outcomePlate(id, 7, 'protan:6,age=45');
  expect(calls[0]?.[0]).toBe(`/api/sittings/${id}/outcome/plates/7?as=protan%3A6%2Cage%3D45`);
});

test('a deletion needs no body', async () => {
  const {fetch, calls} = recorder(() => new Response(null, {status: 204}));
  expect(await createApi(fetch).deleteSitting(id)).toEqual({ok: true, value: null});
  expect(calls[0]?.[1]).toMatchObject({method: 'DELETE', headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}});
});

test('an eye is asked for with what was chosen and nothing else', async () => {
  const {fetch, calls} = recorder(() => Response.json({}));
  await createApi(fetch).eye('protan:6,age=45', null, [0.3, 0.31]);
  await createApi(fetch).eyePicture('normal', 'srgb/oled', 'plate');
  expect(calls.map(([address]) => address)).toEqual([
    '/api/eye?observer=protan%3A6%2Cage%3D45&at=0.3%2C0.31', '/api/eye/picture?observer=normal&display=srgb%2Foled&picture=plate',
  ]);
});

test('a picture as an observer gets it comes with its error and its method', async () => {
  const headers = {'X-Copunctal-View-Error': '0.1 0.4 2', 'X-Copunctal-View-Method': 'plane'};
  const {fetch} = recorder(() => new Response(new Uint8Array(12), {headers}));
  expect(await createApi(fetch).eyePicture('protan:0', null, 'pebbles')).toMatchObject({
    ok: true, value: {method: 'plane', picture: {sizePx: 2, error: {mean: 0.1, p95: 0.4, largest: 2}}},
  });
});

test('no record of the screen is a value, not trouble', async () => {
  const {fetch} = recorder(() => Response.json({current: null}));
  expect(await createApi(fetch).currentRecord()).toEqual({ok: true, value: null});
});
