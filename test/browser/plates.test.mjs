// The page of plates: sets that are there, one made while one watches and one stopped, plates at a closer look.
//
//   COPUNCTAL_PROGRAM   the program (the mock server has no sets)
//   COPUNCTAL_SHOTS     a directory for pictures of the page, for looking at

import assert from 'node:assert/strict';
import {mkdirSync} from 'node:fs';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, pixelsOf, startBoth} from './harness.mjs';

const MOCKED = (process.env.COPUNCTAL_PROGRAM ?? '').endsWith('.mjs');

describe('the page of plates', {skip: MOCKED}, async () => {
  if (MOCKED) return;
  const {program, browser} = await startBoth();

  async function open(options = {}) {
    const opened = await openPage(browser, program.url, {viewport: {width: 1280, height: 900}, ...options});
    await opened.page.goto(`${program.url}/plates`);
    await opened.page.getByRole('heading', {name: 'Sets there are'}).waitFor();
    return opened;
  }
  async function shot(page, name) {
    if (!process.env.COPUNCTAL_SHOTS) return;
    mkdirSync(process.env.COPUNCTAL_SHOTS, {recursive: true});
    await page.screenshot({path: join(process.env.COPUNCTAL_SHOTS, `${name}.png`), fullPage: true});
  }

  test('a set is made while one watches, and its plates say what they rest on', {timeout: 180_000}, async () => {
    const {page, context, quiet} = await open();
    await page.getByLabel('For', {exact: true}).selectOption('exhibits');
    assert.deepEqual(await page.locator('#set-symbols option').allInnerTexts(), ['digits', 'notched rings'], 'two paths cannot lie in one field');
    await page.getByLabel('Seed').fill('5');
    await page.getByRole('button', {name: 'Make it'}).click();
    await page.getByText('The set exhibits-srgb-oled-5 is made.').waitFor({timeout: 120_000});
    await page.getByRole('button', {name: 'Look at it: exhibits-srgb-oled-5'}).click();
    await page.getByLabel('Plate', {exact: true}).waitFor({timeout: 60_000});
    assert.match(await page.locator('section[aria-labelledby="shelved"]').innerText(), /Salience\. Rests on salience/);
    assert.equal(await page.locator('#shelved-plate option').count(), 4);
    await page.waitForLoadState('networkidle');
    await page.waitForFunction(() => [...document.querySelectorAll('.shelf-figure')].every((image) => image.complete && image.naturalWidth > 0));
    await assertAccessible(page, 'plates');
    await shot(page, 'plates');
    quiet();
    await context.close();
  });

  test('the eye is chosen on its curves by keyboard, and the picture is what a view of the plate is', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await page.getByRole('button', {name: /^Look at it/}).first().click();
    await page.locator('.curve[data-cone="l"]').waitFor({timeout: 60_000});
    const asked = [];
    page.on('request', (request) => { if (request.url().includes('/picture')) asked.push(decodeURIComponent(new URL(request.url()).search)); });
    await page.locator('.curve[data-cone="l"]').focus();
    await page.keyboard.press('Home');
    await page.getByRole('heading', {name: /^Taken apart for a protan/}).waitFor();
    await page.waitForLoadState('networkidle');
    assert.equal(asked.at(-1), '?as=protan:0');
    const shown = await pixelsOf(page.locator('.shelf-pair canvas').nth(1));
    const {sets} = (await call(program, 'GET', '/api/sets')).body;
    const name = await page.locator('#shelved').innerText();
    const set = sets.find((one) => name.endsWith(one.set));
    const answer = await fetch(`${program.url}/api/sets/${set.set}/plates/0/picture?as=protan:0`);
    assert.deepEqual(shown, Buffer.from(await answer.arrayBuffer()), 'the codes are drawn as they came');
    quiet();
    await context.close();
  });

  test('what is being made can be stopped, and nothing of it is kept', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await page.getByLabel('Seed').fill('99');
    await page.getByRole('button', {name: 'Make it'}).click();
    await page.getByRole('button', {name: 'Stop'}).click();
    await page.getByText('Stopped. Nothing was kept.').waitFor({timeout: 60_000});
    const {sets} = (await call(program, 'GET', '/api/sets')).body;
    assert.equal(sets.some((one) => one.seed === 99), false);
    quiet();
    await context.close();
  });

  test('a set that is there already is not made again, and the page says so', {timeout: 60_000}, async () => {
    const wish = {purpose: 'exhibits', display: 'srgb/oled', symbols: 'digits', seed: 5, loan: null, plates: null, cells: 1000};
    const again = await call(program, 'POST', '/api/sets', wish);
    assert.equal(again.status, 409);
    assert.match(again.body.error.message, /there is a set of these already/);
    for (const spoilt of [{...wish, seed: -1}, {...wish, purpose: 'screening'}, {...wish, display: '/etc/passwd'}, {...wish, loan: 'protan:99'}, {...wish, symbols: 'letters'}, {...wish, cells: 20}, {...wish, plates: 9}, {...wish, purpose: 'practical', plates: 500}, {...wish, symbols: 'digits:3,5'}])
      assert.equal((await call(program, 'POST', '/api/sets', spoilt)).status, 422, JSON.stringify(spoilt));
    assert.equal((await call(program, 'GET', '/api/sets/..%2F..%2Fetc')).status, 404);
  });

  test('on a phone the page keeps to its width', {timeout: 60_000}, async () => {
    const {page, context, quiet} = await open({viewport: {width: 390, height: 800}});
    await page.getByRole('button', {name: /^Look at it/}).first().click();
    await page.locator('.curve[data-cone="l"]').waitFor({timeout: 60_000});
    await page.waitForLoadState('networkidle');
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), 'nothing hangs over');
    await shot(page, 'plates-390');
    quiet();
    await context.close();
  });
});
