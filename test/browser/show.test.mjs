// Plates shown to a room: the presenter's window and the one on the projector kept together, phones that answer, and a
// tally that points to nobody.

import assert from 'node:assert/strict';
import {readdirSync, readFileSync, statSync} from 'node:fs';
import {join} from 'node:path';
import {after, describe, test} from 'node:test';

import {assertAccessible, call, openPage, platePixels, roomAddress, shot, startBrowser, startProgram} from './harness.mjs';

// By the room's address several phones can join; without one this computer answers alone.
const program = await startProgram({more: roomAddress === undefined ? [] : ['--lan-plain', '--interface', roomAddress]});
after(() => program.stop());
const browser = await startBrowser();
after(() => browser.close());

/** Joins without a browser; returns how such a phone asks. */
async function phone(door) {
  const base = door.network.address.slice(0, -1);
  const joined = await fetch(`${base}/api/join`, {
    method: 'POST', headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}, body: JSON.stringify({code: door.code}),
  });
  const cookie = joined.headers.get('set-cookie').split(';')[0];
  return (method, path, body) => fetch(base + path, {
    method, headers: {'Cookie': cookie, 'Content-Type': 'application/json', 'X-Copunctal': '1'}, ...(body === undefined ? {} : {body: JSON.stringify(body)}),
  });
}

/** Begins from the page of plates; the presenter's page. */
async function begin() {
  const presenter = await openPage(browser, program.url);
  await presenter.page.goto(`${program.url}/plates`);
  await presenter.page.getByRole('button', {name: /^Show it to a room/}).first().click();
  await presenter.page.waitForURL(/\/show\/[0-9a-f]{32}$/);
  await presenter.page.getByText('the wall is blank').waitFor();
  return {...presenter, show: presenter.page.url().split('/').at(-1)};
}

describe('a show', () => {
  test('keeps presenter and projector together, by keys, and both keep their place when loaded again', {timeout: 120_000}, async () => {
    const {page, context, quiet, show} = await begin();
    const wall = await openPage(browser, program.url, {viewport: {width: 1280, height: 800}});
    await wall.page.goto(`${program.url}/show/${show}/audience`);
    await wall.page.getByText('it is no sitting').waitFor();
    await assertAccessible(wall.page, 'the wall before the first plate');
    assert.equal(await wall.page.locator('canvas').count(), 0, 'blank at first');
    await assertAccessible(page, 'the presenter before the first plate');

    await page.keyboard.press('ArrowRight');
    await wall.page.locator('main[data-phase=plate] canvas.plate').waitFor();
    assert.equal(await wall.page.getByText('it is no sitting').count(), 0, 'the plate alone');
    assert.equal(await wall.page.locator('header, button, a').count(), 0);
    await assertAccessible(wall.page, 'a plate on the wall');
    // The wall shows the program's own codes, one for one.
    const side = await wall.page.evaluate(() => document.querySelector('canvas').width);
    assert.equal(side, 720, 'nine tenths of the shorter side');
    const sent = Buffer.from(await (await fetch(`${program.url}/api/shows/${show}/picture?place=0&size=${side}`)).arrayBuffer());
    assert.ok(sent.equals(await platePixels(wall.page)), 'codes are drawn as they are');
    assert.equal(await page.getByText('Predicted to read it').count(), 0, 'nothing is told before it is revealed');
    await shot(wall.page, 'show-wall');

    await page.keyboard.press(' ');
    await page.getByRole('heading', {name: 'Who is predicted to read it'}).waitFor();
    await page.getByRole('rowheader', {name: 'protan, 0 nm'}).waitFor();
    await assertAccessible(page, 'the presenter with a plate revealed');
    await shot(page, 'show-presenter');
    await page.getByLabel('Your notes to this plate').fill('Ask the back row.');
    await page.keyboard.press('ArrowRight');
    await page.getByText('is on the wall and revealed').waitFor();
    assert.equal((await call(program, 'GET', `/api/shows/${show}`)).body.step, 2, 'keys in the notes stay there');

    await page.reload();
    await page.getByText('Plate 1 of 18 is on the wall and revealed.').waitFor();
    assert.equal(await page.getByLabel('Your notes to this plate').inputValue(), 'Ask the back row.');
    await wall.page.reload();
    await wall.page.locator('main[data-phase=revealed] canvas.plate').waitFor();
    await page.getByRole('heading', {level: 1}).focus();
    await page.keyboard.press('PageDown');
    await wall.page.locator('main[data-phase=blank]').waitFor();
    assert.equal(await wall.page.locator('canvas, p').count(), 0, 'blank in between');
    await page.keyboard.press('PageUp');
    await wall.page.locator('main[data-phase=revealed]').waitFor();

    await page.getByRole('button', {name: 'End the show'}).click();
    await wall.page.getByText('The show is over.').waitFor();
    quiet();
    wall.quiet();
    await context.close();
    await wall.context.close();
  });

  test('counts what phones answer, hides small cells and stores nothing', {timeout: 120_000, skip: roomAddress === undefined && 'this machine has no network address'}, async () => {
    const {page, context, quiet, show} = await begin();
    const {body: door} = await call(program, 'GET', '/api/class');
    const own = await openPage(browser, door.network.address.slice(0, -1), {viewport: {width: 390, height: 844}});
    await own.page.goto(door.network.join_address);
    await own.page.getByText('No plate takes answers at the moment.').waitFor();
    await page.keyboard.press('ArrowRight');
    await own.page.getByText('Plate 1 of 18.').waitFor();
    await own.page.getByText('it is no sitting, and nothing is stored').waitFor();
    assert.ok(await own.page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing sticks out');
    await assertAccessible(own.page, 'a phone that answers');
    await shot(own.page, 'show-phone');
    const {plate: {drawn: [drawn], name}} = (await call(program, 'GET', `/api/shows/${show}`)).body;
    assert.equal((await own.page.content()).includes(name), false, 'a phone does not know the plate');
    await own.page.locator('button.symbol', {hasText: new RegExp(`^${drawn}$`)}).click();
    await own.page.getByText(`You answered: ${drawn}.`).waitFor();

    // Six more read it, three do not.
    const phones = await Promise.all(Array.from({length: 9}, () => phone(door)));
    for (const [at, asks] of phones.entries()) {
      assert.equal((await asks('PUT', '/api/show/answer', {place: 0, symbols: at < 6 ? [drawn] : []})).status, 200);
    }
    assert.equal((await phones[0]('PUT', '/api/show/answer', {place: 1, symbols: []})).status, 409, 'not before its time');
    assert.equal((await phones[0]('PUT', '/api/show/answer', {place: 0, symbols: ['x']})).status, 422);
    assert.equal((await phones[0]('GET', `/api/shows/${show}`)).status, 404, 'what is presented is not for phones');
    await page.getByText('10 phones have answered.').waitFor();
    const before = (await call(program, 'GET', `/api/shows/${show}`)).body;
    assert.deepEqual([before.tally.told, before.tally.cells, before.expected], [false, [], null]);

    await page.keyboard.press('ArrowRight');
    await page.getByText('10 phones have answered; as drawn:').waitFor();
    const after = (await call(program, 'GET', `/api/shows/${show}`)).body;
    assert.equal(after.tally.answered, 10);
    assert.equal(after.tally.as_drawn.as_drawn, null);
    assert.ok(after.tally.cells.every(({count}) => count === null), 'three who did not read it are not given away by the seven who did');
    assert.equal(after.expected.length, 10);
    assert.equal((await phones[0]('PUT', '/api/show/answer', {place: 0, symbols: []})).status, 409, 'revealed is over');
    await own.page.getByText('No plate takes answers at the moment.').waitFor();

    // Next plate: six and five can be told.
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    await page.getByText('answers are open').waitFor();
    const {plate} = (await call(program, 'GET', `/api/shows/${show}`)).body;
    phones.push(await phone(door), await phone(door));
    for (const [at, asks] of phones.entries()) await asks('PUT', '/api/show/answer', {place: 1, symbols: at < 6 ? plate.drawn : []});
    await page.keyboard.press('ArrowRight');
    await page.getByText('11 phones have answered; as drawn: 6 of 11.').waitFor();
    await assertAccessible(page, 'a tally');
    await shot(page, 'show-tally');

    assert.deepEqual((await call(program, 'GET', '/api/practicals')).body.practicals, [], 'it is no practical');
    for (const file of readdirSync(program.data, {recursive: true})) {
      const path = join(program.data, file);
      if (statSync(path).isFile()) assert.equal(readFileSync(path).includes(show), false, `${file} knows nothing of it`);
    }
    own.quiet();
    quiet();
    await context.close();
    await own.context.close();
  });
});
