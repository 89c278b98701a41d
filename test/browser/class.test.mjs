// A class from its preparation to the debrief, in the browser of whoever runs it; people answer through the API with
// computed eyes, some of them lent.

import assert from 'node:assert/strict';
import {readdirSync, readFileSync, statSync} from 'node:fs';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, eyeReads, openPage, roomAddress, shot, startBoth, startProgram} from './harness.mjs';

const {program, browser} = await startBoth();

async function begin(practical, more = {}) {
  const reply = await call(program, 'POST', `/api/practicals/${practical}/sittings`, {consent: true, tell: 'tell', sex_at_birth: null, purposes: ['class'], ...more});
  return reply;
}

/** Answers every plate of a sitting: as `observer` sees it, or, without one, nothing to each. */
async function sit(state, observer = null) {
  let answers = 0;
  for (let now = state; now.round !== null;) {
    const item = now.round.items.find(({answered}) => !answered);
    let symbols = [];
    if (observer !== null) {
      const picture = await fetch(`${program.url}/api/sittings/${state.sitting}/plates/${item.plate}`);
      symbols = await eyeReads(program, observer, Buffer.from(await picture.arrayBuffer()), {symbols: now.symbols, figures: now.round.figures});
    }
    const id = state.sitting.slice(0, 28) + (answers++).toString(16).padStart(4, '0');
    const reply = await call(program, 'PUT', `/api/sittings/${state.sitting}/answers/${id}`, {
      item: item.item, symbols, end: 'answered', onset_ms: 1000, response_ms: 2000, shown_ms: 1000, frames: 60, hidden: false, page_load: 'a'.repeat(32),
    });
    assert.equal(reply.status, 200, JSON.stringify(reply.body));
    now = reply.body.state;
  }
}

describe('a class', () => {
  test('is prepared with loans, opened with a sealed card, watched, closed and debriefed', {timeout: 400_000}, async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(program.url);
    await page.getByLabel('Name').fill('Tuesday');
    await page.getByText('Observers to lend, for a class').click();
    assert.equal(await page.getByLabel('protan, 0 nm').isDisabled(), true, 'what is opened at once lends nobody');
    await page.getByLabel('Later, for a class').check();
    await page.getByLabel('protan, 0 nm').check();
    await assertAccessible(page, 'start page with loans');
    await page.getByRole('button', {name: 'Start a practical'}).click();
    await page.getByText('Practical “Tuesday” is being prepared').waitFor();
    assert.ok(await page.getByText('Practical “Tuesday” is being prepared').evaluate((element) => element.getBoundingClientRect().top > 0), 'what it brought about is in sight');
    assert.equal(await page.getByRole('link', {name: 'Sit it: Tuesday'}).count(), 0, 'nobody can sit it before it is open');
    await page.getByRole('link', {name: 'Run it: Tuesday'}).click();
    const practical = page.url().split('/').at(-1);
    assert.equal((await begin(practical)).status, 409);

    // Opening waits for the plates on loan.
    await page.getByText(/protan, 0 nm: (all plates are drawn|drawn, but for)/).waitFor({timeout: 180_000});
    await assertAccessible(page, 'a practical being prepared');
    await shot(page, 'class-preparing');
    await page.getByLabel('Men expected', {exact: true}).fill('12');
    await page.getByLabel('Women expected').fill('18');
    await page.getByLabel('Misses in the first round that count').fill('3');
    await page.getByRole('button', {name: 'Seal the card and open'}).click();
    await page.getByText('With the rule “3 misses or more in the first round” expect').waitFor();
    const {body: open} = await call(program, 'GET', `/api/practicals/${practical}`);
    assert.equal(open.state, 'open');
    assert.equal(open.card_is_as_sealed, true);
    assert.match(open.card_sha256, /^[0-9a-f]{64}$/);
    // 12 x .08 + 18 x .004, the prevalences the card states.
    assert.ok(Math.abs(open.card.expected_deficient - 1.032) < 1e-3);

    // Two by lot: one of them gets protan:0, the other keeps own eyes, and neither is told.
    const drawn = [(await begin(practical, {on_loan: true})).body, (await begin(practical, {on_loan: true})).body];
    assert.ok(drawn.every((state) => state.on_loan && !JSON.stringify(state).includes('protan')), 'whose eyes were lent is not said');
    for (const state of drawn) await sit(state, 'normal');
    const waits = (await call(program, 'GET', `/api/sittings/${drawn[0].sitting}/outcome`)).body;
    assert.equal(waits.told, false);
    assert.equal(waits.waits, true);
    await page.goto(`${program.url}/sitting/${drawn[0].sitting}/outcome`);
    await page.getByText('that is told once the practical is closed').waitFor();
    await assertAccessible(page, 'an outcome that waits');

    // Eleven with own eyes: six normal, five who read nothing.
    const own = [];
    for (let i = 0; i < 11; ++i) own.push((await begin(practical)).body);
    // And one who does not want to be counted.
    await sit((await begin(practical, {purposes: []})).body);
    for (const [i, state] of own.entries()) await sit(state, i < 2 ? 'normal' : null);
    const running = (await begin(practical)).body;

    await page.goto(`${program.url}/practical/${practical}`);
    await page.getByRole('rowheader', {name: running.pseudonym}).waitFor();
    const watch = (await call(program, 'GET', `/api/practicals/${practical}/watch`)).body;
    assert.deepEqual(Object.keys(watch.sittings[0]).sort(), ['answered', 'last_heard_utc', 'of', 'pseudonym', 'stage']);
    await assertAccessible(page, 'an open practical');
    await shot(page, 'class-open');
    assert.equal((await call(program, 'GET', `/api/practicals/${practical}/debrief`)).status, 409, 'nothing is said of a running practical');

    await page.getByRole('button', {name: 'Close the practical'}).click();
    await page.getByRole('button', {name: 'Close it for good'}).click();
    await page.getByRole('heading', {name: 'What the class read'}).waitFor();
    assert.equal((await begin(practical)).status, 409);
    assert.equal((await call(program, 'GET', `/api/sittings/${running.sitting}`)).body.state, 'ended');
    await assertAccessible(page, 'a debrief');
    await shot(page, 'class-debrief');

    // A normal eye on loan of protan:0 answers as a protan would; the other keeps its own.
    const outcomes = [];
    for (const {sitting} of drawn) outcomes.push((await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body);
    const lent = outcomes.find((outcome) => outcome.lent === 'protan:0');
    const kept = outcomes.find((outcome) => outcome.lent === 'own');
    assert.ok(lent && kept, 'one of two by lot is lent eyes');
    assert.equal(lent.verdict, 'protan');
    assert.equal(kept.verdict, 'normal');

    const debrief = (await call(program, 'GET', `/api/practicals/${practical}/debrief`)).body;
    assert.equal(debrief.own, 11, 'loans are not pooled with own eyes; who answered nothing, or did not agree to it, is not counted');
    assert.equal(debrief.on_loan, 2);
    for (const plate of debrief.plates) {
      assert.ok(plate.own.as_drawn === null, 'two of eleven are too few for a number');
      assert.ok(plate.loans.every(({observer, read}) => observer !== 'own' || read.as_drawn === null), 'nor is one who kept own eyes');
    }
    assert.equal(debrief.loans[0].observer, 'protan:0');
    assert.deepEqual(debrief.loans[0].verdicts, {protan: 1});
    assert.match(debrief.intended_use, /not for diagnosis/);
    quiet();
    await context.close();
  });

  test('off the record takes part like everybody and leaves nothing behind', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'Off the record'});
    await page.goto(`${program.url}/sit/${practical.id}`);
    await page.getByLabel('I have read this').check();
    await page.getByLabel('Tell me', {exact: true}).check();
    await page.getByLabel('Off the record').check();
    await assertAccessible(page, 'consent off the record');
    await page.getByRole('button', {name: 'Begin'}).click();
    await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
    const sitting = page.url().split('/').at(-1);
    const state = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
    assert.equal(state.off_record, true);
    assert.notEqual(state.pseudonym, '', 'with two words like everybody');
    await sit(state, 'normal');
    const outcome = (await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body;
    assert.equal(outcome.verdict, 'normal');
    assert.deepEqual((await call(program, 'GET', `/api/practicals/${practical.id}/watch`)).body.sittings, [], 'nobody watching sees it');
    assert.equal((await call(program, 'GET', `/api/practicals/${practical.id}`)).body.sittings, 0);
    // Not a trace of it on the disk.
    for (const name of readdirSync(program.data, {recursive: true})) {
      const file = join(program.data, name);
      if (statSync(file).isFile()) assert.equal(readFileSync(file).includes(sitting), false, `${name} knows nothing of it`);
    }
    quiet();
    await context.close();
  });

  test('fits a phone', async () => {
    const {page, context, quiet} = await openPage(browser, program.url, {viewport: {width: 390, height: 844}});
    const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'On a phone'});
    await page.goto(`${program.url}/practical/${practical.id}`);
    await page.getByText('Nobody has begun yet.').waitFor();
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing sticks out');
    await assertAccessible(page, 'an open practical on a phone');
    quiet();
    await context.close();
  });

  test('joins with devices of its own, by code, over the room’s network', {skip: roomAddress === undefined && 'this machine has no network address'}, async () => {
    const served = await startProgram({more: ['--lan-plain', '--interface', roomAddress]});
    try {
      const {body: practical} = await call(served, 'POST', '/api/practicals', {name: 'Over the network'});
      const {body: door} = await call(served, 'GET', '/api/class');
      assert.match(door.network.address, new RegExp(`^http://${roomAddress.replaceAll('.', '\\.')}:\\d+/$`));
      const base = door.network.address.slice(0, -1);

      // The instructor's page shows how to join.
      const own = await openPage(browser, served.url);
      await own.page.goto(`${served.url}/practical/${practical.id}`);
      await own.page.getByText(door.code).waitFor();
      await own.page.waitForFunction(() => document.querySelector('img')?.naturalWidth > 0);
      await assertAccessible(own.page, 'an open practical with a network');
      await shot(own.page, 'class-network');
      own.quiet();
      await own.context.close();

      // A phone of the class: the start page leads to joining, a wrong code is refused, the right one opens the way.
      const {page, context, quiet} = await openPage(browser, base, {viewport: {width: 390, height: 844}});
      await page.goto(`${base}/`);
      await page.getByLabel('Code of the class').waitFor();
      await page.getByText('What you send here is not encrypted.').waitFor();
      await assertAccessible(page, 'joining');
      await page.getByLabel('Code of the class').fill(door.code === '00000000' ? '11111111' : '00000000');
      await page.getByRole('button', {name: 'Join'}).click();
      await page.getByRole('alert').waitFor();
      await page.getByLabel('Code of the class').fill(door.code.toLowerCase());
      await page.getByRole('button', {name: 'Join'}).click();
      await page.getByRole('link', {name: 'Sit it: Over the network'}).waitFor();
      await assertAccessible(page, 'what can be sat');
      await shot(page, 'class-joined');
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing sticks out');
      await page.getByRole('link', {name: 'Sit it: Over the network'}).click();
      await page.getByLabel('I have read this').check();
      await page.getByLabel('Tell me', {exact: true}).check();
      await page.getByLabel('My answers are kept').check();
      await page.getByRole('button', {name: 'Begin'}).click();
      await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
      await page.locator('.introduction .primary.large:enabled').waitFor({timeout: 30_000});
      const sitting = page.url().split('/').at(-1);
      // What an instructor has is not there for a device, and a sitting is nobody else's.
      for (const path of ['/api/practicals', `/api/practicals/${practical.id}/watch`, `/api/practicals/${practical.id}/debrief`, '/api/class']) {
        assert.equal(await page.evaluate((at) => fetch(at).then(({status}) => status), path), 404, path);
      }
      // Who scanned a code that is no longer good is told so, and may type the right one.
      const stale = await openPage(browser, base);
      await stale.page.goto(`${base}/join#${door.code === '00000000' ? '11111111' : '00000000'}`);
      await stale.page.getByLabel('Code of the class').waitFor();
      await stale.page.getByRole('alert').waitFor();
      await stale.context.close();
      const other = await openPage(browser, base);
      await other.page.goto(`${base}/join#${door.network.join_address.split('#')[1]}`);
      await other.page.getByRole('link', {name: 'Sit it: Over the network'}).waitFor();
      assert.equal(await other.page.evaluate((at) => fetch(at).then(({status}) => status), `/api/sittings/${sitting}`), 404);
      assert.equal(new URL(other.page.url()).hash, '', 'the code does not stay in the address');
      await other.context.close();
      quiet();
      await context.close();
    } finally {
      await served.stop();
    }
  });
});
