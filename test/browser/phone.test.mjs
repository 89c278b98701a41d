// What somebody with a phone goes through, 390 × 844, by finger: everything fits, can be hit and read, and nothing speaks of keys.

import assert from 'node:assert/strict';
import {after, describe, test} from 'node:test';

import {assertAccessible, call, eyeReads, openPage, plateStands, roomAddress, shot, startBrowser, startProgram} from './harness.mjs';

const program = await startProgram({more: roomAddress === undefined ? [] : ['--lan-plain', '--interface', roomAddress]});
after(() => program.stop());
// A finger, and nothing that hovers; the browsers of the other tests have a mouse.
const browser = await startBrowser('--blink-settings=primaryHoverType=1,availableHoverTypes=1,primaryPointerType=2,availablePointerTypes=2');
after(() => browser.close());

/** Long enough that no plate blanks before it was looked at. */
const EXPOSURE_MS = 20_000;
const PHONE = {viewport: {width: 390, height: 844}, deviceScaleFactor: 2, hasTouch: true, isMobile: true};

/** Nothing sticks out, no target is smaller than 24 pixels, and axe finds nothing. */
async function assertFits(page, where) {
  await shot(page, `phone-${where.replaceAll(' ', '-')}`);
  const found = await page.evaluate(() => ({
    wide: document.documentElement.scrollWidth > document.documentElement.clientWidth,
    // A link within a sentence is as high as its line.
    small: Array.from(document.querySelectorAll('button, input, select, textarea, summary, a.button, a.alone, header a'), (element) => {
      const {width, height} = element.getBoundingClientRect();
      return width > 0 && Math.min(width, height) < 24 - 0.5 ? `${element.textContent || element.id}: ${width} × ${height}` : null;
    }).filter((one) => one !== null),
    targets: document.querySelectorAll('button, input, a').length,
  }));
  assert.equal(found.wide, false, `${where}: nothing sticks out`);
  assert.ok(found.targets > 0, `${where}: there is something to press`);
  assert.deepEqual(found.small, [], `${where}: everything can be hit`);
  await assertAccessible(page, `${where} on a phone`);
}

async function startPage(options = {}) {
  const {body: door} = await call(program, 'GET', '/api/class');
  const base = door.network === null ? program.url : door.network.address.slice(0, -1);
  const opened = await openPage(browser, base, {...PHONE, ...options});
  await opened.page.goto(door.network?.join_address ?? `${base}/join`);
  await opened.page.getByRole('heading', {name: 'What can be sat now'}).waitFor();
  return {...opened, base};
}

async function agree(page, base, practical, how) {
  await page.goto(`${base}/sit/${practical}`);
  await page.getByLabel('I have read this').tap();
  await page.getByLabel(how, {exact: true}).tap();
}

/** Goes on without a page, as `observer` reads or seeing nothing, up to the end or a round that `until` names. */
async function answerRest(sitting, observer = null, until = null) {
  let state = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
  for (let at = 0; state.round !== null && state.round.name !== until; ++at) {
    const {item, plate} = state.round.items.find(({answered}) => !answered);
    let symbols = [];
    if (observer !== null) {
      const picture = await fetch(`${program.url}/api/sittings/${sitting}/plates/${plate}`);
      symbols = await eyeReads(program, observer, Buffer.from(await picture.arrayBuffer()), {symbols: state.symbols, figures: state.round.figures});
    }
    const reply = await call(program, 'PUT', `/api/sittings/${sitting}/answers/${sitting.slice(0, 28)}${at.toString(16).padStart(4, '0')}`, {
      item, symbols, end: 'answered', onset_ms: 1000, response_ms: 2000, shown_ms: 1000, frames: 60, hidden: false, page_load: 'a'.repeat(32),
    });
    assert.equal(reply.status, 200, JSON.stringify(reply.body));
    state = reply.body.state;
  }
  return state;
}

/** What was just chosen is white on black, wherever finger or mouse are. */
async function assertChosenShows(page, symbol) {
  await page.locator('button.symbol[aria-pressed=true]').waitFor();
  const look = await symbol.evaluate((element) => ({ink: getComputedStyle(element).color, ground: getComputedStyle(element).backgroundColor}));
  assert.deepEqual(look, {ink: 'rgb(255, 255, 255)', ground: 'rgb(27, 27, 27)'});
}

async function begin(page) {
  await page.getByRole('button', {name: 'Begin'}).tap();
  await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
  await page.locator('.introduction .primary.large:enabled').waitFor({timeout: 30_000});
  return page.url().split('/').at(-1);
}

describe('on a phone', () => {
  test('a sitting off the record, without wanting to be told, by finger', {timeout: 180_000}, async () => {
    const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'In the pocket', exposure_ms: EXPOSURE_MS});
    const {page, context, quiet, base} = await startPage();
    await assertFits(page, 'what can be sat');
    await agree(page, base, practical.id, 'Don’t tell me');
    await assertFits(page, 'consent');
    await page.getByLabel('Off the record').tap();
    assert.equal(await page.getByLabel('They may count in what the class sees').isDisabled(), true, 'what is not kept is used for nothing');
    await assertFits(page, 'consent off the record');
    const sitting = await begin(page);
    await assertFits(page, 'introduction');
    assert.doesNotMatch(await page.locator('main').innerText(), /\bkeys?\b/i, 'no key is spoken of');
    await page.getByText('0 taken, none stored').waitFor();
    for (let rounds = 0; ; ++rounds) {
      await page.locator('.introduction .primary.large:enabled').tap();
      await plateStands(page);
      if (rounds === 0) {
        await assertFits(page, 'plate');
        assert.doesNotMatch(await page.locator('main').innerText(), /\bkeys?\b/i);
        assert.ok(await page.evaluate(() => document.querySelector('.stage-tools').getBoundingClientRect().bottom <= window.innerHeight), 'plate and answers are seen at once');
      }
      const state = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
      if (state.round.figures === 2) {
        const symbol = page.locator('button.symbol').first();
        await symbol.tap();
        await assertChosenShows(page, symbol);
        await assertFits(page, 'plate with two symbols, one chosen');
        break;
      }
      for (let left = state.round.items.length; left > 0; --left) {
        const label = await page.locator('main.stage').getAttribute('aria-label');
        await page.locator('.no-figure').tap();
        await page.waitForFunction((before) => document.querySelector('main.stage')?.getAttribute('aria-label') !== before, label);
        if (left > 1) await plateStands(page);
      }
      await page.locator('.introduction .primary.large:enabled').waitFor({timeout: 30_000});
    }
    await page.getByRole('button', {name: 'Stop'}).tap();
    await page.getByRole('heading', {name: 'Stop here?'}).waitFor();
    await assertFits(page, 'stopping');
    await answerRest(sitting);
    await page.goto(`${base}/sitting/${sitting}/outcome`);
    await page.getByText('All your answers were taken; none is stored.').waitFor();
    await page.getByText('Off the record: nothing of this sitting is stored.').waitFor();
    assert.equal(await page.getByRole('button', {name: 'Give me a code'}).count(), 0, 'there is nothing to come back to');
    await assertFits(page, 'an outcome that is not told');
    quiet();
    await context.close();
  });

  test('with an examiner, told, and back to it by its code', {timeout: 180_000}, async () => {
    const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'In pairs', exposure_ms: EXPOSURE_MS});
    const {page, context, quiet, base} = await startPage();
    await agree(page, base, practical.id, 'Tell me');
    await page.getByLabel('With an examiner').tap();
    await assertFits(page, 'consent with an examiner');
    const sitting = await begin(page);
    for (const round of ['Warm-up', 'First round']) {
      await page.getByRole('heading', {name: round}).waitFor();
      await page.locator('.introduction .primary.large:enabled').tap();
      await plateStands(page);
      await page.locator('button.symbol').first().tap();
      await page.getByRole('button', {name: /^hesitated/}).tap();
      await assertFits(page, `an entry in the ${round.toLowerCase()}`);
      await page.getByRole('button', {name: /^Done/}).tap();
    }
    await page.getByRole('heading', {name: 'Plate 2 of 11 comes next'}).waitFor();
    await page.getByText('Declare it void?').tap();
    await assertFits(page, 'between plates');
    await answerRest(sitting);
    await page.goto(`${base}/sitting/${sitting}/sheet`);
    await page.getByRole('heading', {level: 1}).waitFor();
    await page.locator('table').first().waitFor();
    await assertFits(page, 'sheet of an examiner');
    await page.goto(`${base}/sitting/${sitting}/outcome`);
    await page.getByRole('heading', {name: 'Plate by plate'}).waitFor();
    await page.getByText('Not interpretable', {exact: true}).waitFor();
    assert.equal(await page.getByRole('heading', {name: /step/}).count(), 0, 'where nothing can be concluded nothing is weighed');
    await page.getByRole('button', {name: 'Give me a code'}).tap();
    const code = await page.getByText('Your code:').locator('.class-code').textContent();
    await assertFits(page, 'outcome that cannot be interpreted');

    await page.goto(`${base}/collect`);
    await page.getByLabel('Code').fill('not sixteen');
    await page.getByRole('button', {name: 'Go there'}).tap();
    await page.getByText('it was shown as four groups of four').waitFor();
    await assertFits(page, 'a code of another form');
    await page.getByLabel('Code').fill(code.toLowerCase());
    await page.getByRole('button', {name: 'Go there'}).tap();
    await page.waitForURL(`${base}/sitting/${sitting}/outcome`);

    const {body: read} = await call(program, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell: 'tell', sex_at_birth: null});
    await answerRest(read.sitting, 'deutan:0');
    await page.goto(`${base}/sitting/${read.sitting}/outcome`);
    await page.getByRole('heading', {name: 'Second step: how common each kind is'}).waitFor();
    await assertFits(page, 'outcome');
    quiet();
    await context.close();
  });

  test('the screen, checked step by step', async () => {
    const {page, context, quiet, base} = await startPage();
    await page.goto(`${base}/display`);
    const steps = page.locator('.step');
    await steps.first().waitFor();
    for (let at = 0; at < await steps.count(); ++at) {
      if (await steps.nth(at).isDisabled()) continue;
      await steps.nth(at).tap();
      await page.locator('.step[aria-current=step]').nth(0).waitFor();
      await assertFits(page, `step ${at + 1} of checking the screen`);
    }
    quiet();
    await context.close();
  });

  test('what is chosen shows under a mouse, too', async () => {
    const mouse = await startBrowser();
    try {
      const {body: practical} = await call(program, 'POST', '/api/practicals', {name: 'By mouse', exposure_ms: EXPOSURE_MS});
      const {body: {sitting}} = await call(program, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell: 'later', sex_at_birth: null});
      await answerRest(sitting, null, 'which-kind');
      const {page, context, quiet} = await openPage(mouse, program.url);
      await page.goto(`${program.url}/sitting/${sitting}`);
      await page.locator('.introduction .primary.large:enabled').click();
      await plateStands(page);
      assert.match(await page.locator('main').innerText(), /\bkey N\b/, 'with a mouse there are keys');
      const symbol = page.locator('button.symbol').first();
      await symbol.click();
      await assertChosenShows(page, symbol);
      quiet();
      await context.close();
    } finally {
      await mouse.close();
    }
  });

  test('pages stay neutral grey where dark ones are wanted: they surround plates', async () => {
    const looks = [];
    for (const colorScheme of ['light', 'dark']) {
      const {page, context, quiet} = await startPage({colorScheme});
      looks.push((await page.screenshot()).toString('base64'));
      quiet();
      await context.close();
    }
    assert.equal(looks[1] === looks[0], true, 'the same pixels');
  });
});
