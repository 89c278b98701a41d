// A demonstrator runs a class from a device of their own, over TLS and by keyboard alone, and sees nobody's sitting.

import assert from 'node:assert/strict';
import {join} from 'node:path';
import {after, describe, test} from 'node:test';

import {assertAccessible, call, openPage, roomAddress, shot, startBrowser, startProgram} from './harness.mjs';

const browser = await startBrowser();
after(() => browser.close());

/** Goes on by Tab until `wanted` has the focus, and sees that the focus shows. */
async function tabTo(page, wanted) {
  await wanted.waitFor();
  for (let tabs = 0; tabs < 60; ++tabs) {
    await page.keyboard.press('Tab');
    const found = await wanted.evaluate((element) => ({
      has: document.activeElement === element, outline: getComputedStyle(element).outlineStyle, px: parseFloat(getComputedStyle(element).outlineWidth),
    }));
    if (!found.has) continue;
    assert.ok(found.outline === 'solid' && found.px >= 2, 'the focus shows');
    return;
  }
  assert.fail(`${wanted} is not reached by Tab`);
}

async function press(page, wanted) {
  await tabTo(page, wanted);
  await page.keyboard.press('Enter');
}

async function type(page, label, words) {
  await tabTo(page, page.getByLabel(label, {exact: true}));
  await page.keyboard.press('Control+a');
  await page.keyboard.type(words);
}

/** Asks as the device whose page it is. */
const ask = (page, method, path, body = {}) => page.evaluate(async ([how, at, sent]) => {
  const response = await fetch(at, {method: how, ...(how === 'GET' ? {} : {headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}, body: sent})});
  return {status: response.status, body: await response.json().catch(() => null)};
}, [method, path, JSON.stringify(body)]);
const statusOf = async (page, method, path) => (await ask(page, method, path)).status;

async function answerNothing(page, state) {
  let answers = 0;
  for (let now = state; now.round !== null;) {
    const {item} = now.round.items.find(({answered}) => !answered);
    const id = state.sitting.slice(0, 28) + (answers++).toString(16).padStart(4, '0');
    const reply = await ask(page, 'PUT', `/api/sittings/${state.sitting}/answers/${id}`, {
      item, symbols: [], end: 'answered', onset_ms: 1000, response_ms: 2000, shown_ms: 1000, frames: 60, hidden: false, page_load: 'a'.repeat(32),
    });
    assert.equal(reply.status, 200, JSON.stringify(reply.body));
    now = reply.body.state;
  }
}

describe('a demonstrator', {skip: roomAddress === undefined && 'this machine has no network address'}, () => {
  for (const {device, viewport} of [{device: 'laptop', viewport: {width: 1366, height: 768}}, {device: 'phone', viewport: {width: 390, height: 844}}]) {
    test(`opens, locks, watches how many are where, and closes, on a ${device}`, {timeout: 180_000}, async () => {
      const program = await startProgram({more: ['--lan', '--interface', roomAddress]});
      try {
        const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'Thursday', prepare: true});
        const {body: {network}} = await call(program, 'GET', '/api/class');
        assert.match(network.address, /^https:/);

        // The instructor lets a practical of their own run, and gives a code from its page.
        const {body: open} = await call(program, 'POST', '/api/practicals', {name: 'Wednesday'});
        const own = await openPage(browser, program.url);
        await own.page.goto(`${program.url}/practical/${open.id}`);
        await press(own.page, own.page.getByRole('button', {name: 'A code for a demonstrator'}));
        const given = own.page.getByText('For one demonstrator’s device:');
        await given.waitFor();
        await assertAccessible(own.page, 'a code for a demonstrator');
        const code = await given.locator('.class-code').textContent();
        assert.match(code, /^[0-9A-Z]{4}-[0-9A-Z]{4}$/);

        const base = network.address.slice(0, -1);
        const {page, context, quiet} = await openPage(browser, base, {viewport, ignoreHTTPSErrors: true});
        const fits = async () => assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing sticks out');
        await page.goto(`${base}/`);
        await type(page, 'Code of the class', code);
        await page.keyboard.press('Enter');
        await press(page, page.getByRole('link', {name: 'To what you may run'}));
        await page.waitForURL(`${base}/demonstrator`);
        await page.getByRole('heading', {name: 'Thursday'}).waitFor();
        await assertAccessible(page, `what a demonstrator may run, on a ${device}`);
        await fits();
        await shot(page, `demonstrator-${device}`);
        // The code was for one device.
        const second = await openPage(browser, base, {ignoreHTTPSErrors: true});
        await second.page.goto(`${base}/`);
        await second.page.getByLabel('Code of the class').fill(code);
        await second.page.getByRole('button', {name: 'Join'}).click();
        await second.page.getByRole('alert').waitFor();
        await second.context.close();

        const member = await openPage(browser, base, {ignoreHTTPSErrors: true});
        await member.page.goto(network.join_address);
        await member.page.getByRole('link', {name: 'Sit it: Wednesday'}).waitFor();
        assert.equal(await member.page.getByRole('link', {name: 'Sit it: Thursday'}).count(), 0, 'nobody can sit it before it is open');
        await press(page, page.getByRole('link', {name: 'Run it: Thursday'}));
        await page.waitForURL(`${base}/practical/${practical.id}`);
        await page.getByRole('heading', {name: 'Open it'}).waitFor();
        await assertAccessible(page, `a practical to be opened, on a ${device}`);
        await type(page, 'Men expected', '6');
        await type(page, 'Women expected', '8');
        await press(page, page.getByRole('button', {name: 'Seal the card and open'}));
        await page.getByRole('heading', {name: 'How many are where'}).waitFor();
        const {body: opened} = await call(program, 'GET', `/api/practicals/${practical.id}`);
        assert.deepEqual([opened.state, opened.card.men, opened.card.women], ['open', 6, 8]);

        // Two sit on a device of the class, where it appeared by itself: one has finished, one has only begun.
        await member.page.getByRole('link', {name: 'Sit it: Thursday'}).waitFor();
        const sittings = [];
        for (let i = 0; i < 2; ++i) {
          sittings.push((await ask(member.page, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell: 'tell', sex_at_birth: null, purposes: ['class']})).body);
        }
        await answerNothing(member.page, sittings[0]);
        assert.equal(await statusOf(member.page, 'GET', `/api/sittings/${sittings[0].sitting}/outcome`), 200, 'whose it is has it');
        await page.getByText('2 people have begun.').waitFor();
        const stages = page.getByRole('region', {name: 'How many are where'});
        await stages.getByText(/^finished: 1$/).waitFor();
        await page.waitForFunction(() => document.querySelector('img')?.naturalWidth > 0);
        await assertAccessible(page, `an open practical for a demonstrator, on a ${device}`);
        await fits();
        await shot(page, `demonstrator-open-${device}`);

        await press(page, page.getByRole('button', {name: 'Let nobody else join'}));
        await page.getByRole('button', {name: 'Let people join again'}).waitFor();
        assert.equal((await call(program, 'GET', '/api/class')).body.joining, 'locked');
        await own.page.goto(`${program.url}/practical/${practical.id}`);
        await own.page.getByRole('button', {name: 'Let people join again'}).waitFor();
        // Locked for the class, not for a demonstrator who comes late.
        await press(own.page, own.page.getByRole('button', {name: 'A code for a demonstrator'}));
        await given.waitFor();
        const late = await openPage(browser, base, {viewport, ignoreHTTPSErrors: true});
        await late.page.goto(`${base}/`);
        await press(late.page, late.page.getByText('Joining as a demonstrator'));
        await assertAccessible(late.page, 'joining while nobody else may');
        await type(late.page, 'Code for a demonstrator', await given.locator('.class-code').textContent());
        await late.page.keyboard.press('Enter');
        await late.page.getByRole('link', {name: 'To what you may run'}).waitFor();
        late.quiet();
        await late.context.close();

        // Nobody's sitting: neither on the page nor behind any route, and neither what is the instructor's alone.
        for (const state of sittings) {
          for (const told of [state.pseudonym, state.sitting]) assert.equal((await page.content()).includes(told), false, `${told} is not on the page`);
          for (const path of ['', '/outcome', '/sheet']) assert.equal(await statusOf(page, 'GET', `/api/sittings/${state.sitting}${path}`), 404, path);
          assert.equal(await statusOf(page, 'DELETE', `/api/sittings/${state.sitting}`), 404);
        }
        for (const path of ['/api/practicals', `/api/practicals/${practical.id}/watch`, `/api/practicals/${practical.id}/participations`]) {
          assert.equal(await statusOf(page, 'GET', path), 404, path);
        }
        assert.equal(await statusOf(page, 'POST', '/api/class/demonstrators'), 404);
        assert.equal(await statusOf(page, 'GET', `/api/practicals/${practical.id}/debrief`), 409, 'nothing is said of a running practical');
        for (const name of ['A code for a demonstrator', 'Rehearse with an invented class', /^End it/]) {
          assert.equal(await page.getByRole('button', {name}).count(), 0, `${name} is the instructor’s`);
        }

        await press(page, page.getByRole('button', {name: 'Close the practical'}));
        await press(page, page.getByRole('button', {name: 'Close it for good'}));
        await page.getByRole('heading', {name: 'What the class read'}).waitFor();
        assert.equal((await call(program, 'GET', `/api/practicals/${practical.id}`)).body.state, 'closed');
        await assertAccessible(page, `a debrief for a demonstrator, on a ${device}`);
        await fits();
        await shot(page, `demonstrator-debrief-${device}`);
        const words = await page.locator('main').innerText();
        for (const {pseudonym} of sittings) assert.equal(words.includes(pseudonym), false, 'nor does the debrief name anybody');
        // Of two people no count is told.
        const {plates} = (await call(program, 'GET', `/api/practicals/${practical.id}/debrief`)).body;
        assert.ok(plates.length > 0 && plates.every(({own: {as_drawn: read}}) => read === null));

        // The instructor's page of the same practical follows by itself.
        await own.page.getByText(/It has been closed since/).waitFor();
        await press(page, page.getByRole('link', {name: 'All you may run'}));
        await page.getByRole('listitem').filter({hasText: 'Thursday'}).getByText('closed').waitFor();
        for (const seen of [own, member]) {
          seen.quiet();
          await seen.context.close();
        }
        quiet();
        await context.close();
      } finally {
        await program.stop();
      }
    });
  }
});
