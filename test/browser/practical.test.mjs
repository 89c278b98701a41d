// A whole practical in a real browser: the pages, the program, and an eye that is computed.
//
//   COPUNCTAL_PROGRAM   the program (default build/release/copunctal)
//   COPUNCTAL_EYE       the simulated eye (default build/release/test/tools/simulated_eye)
//   COPUNCTAL_SET_DATA  a data directory whose plate set may be copied, which saves making one
//   COPUNCTAL_SYMBOL_SETS  a directory of sets of other symbols, rings-1 and paths-7, likewise
//   COPUNCTAL_SHOTS     a directory for pictures of the pages, for looking at
//
//   cd web && npm ci && npm run build; node --test --test-concurrency=1 test/browser/

import assert from 'node:assert/strict';
import {execFile} from 'node:child_process';
import {createHash} from 'node:crypto';
import {existsSync, readdirSync} from 'node:fs';
import {join} from 'node:path';
import {describe, test} from 'node:test';
import {promisify} from 'node:util';

import {assertAccessible, call, eyeReads, nextStage, openPage, platePixels, shot, startBoth} from './harness.mjs';

const run = promisify(execFile);
/** Long enough that no plate blanks before a slow machine has asked the eye. */
const EXPOSURE_S = 20;

const {program, browser} = await startBoth();

/** Starts a practical on the start page and returns its id. */
async function startPractical(page, name) {
  await page.goto(program.url);
  await page.getByLabel('Name').fill(name);
  await page.getByLabel('Each plate is shown for').fill(String(EXPOSURE_S));
  await page.getByRole('button', {name: 'Start a practical'}).click();
  const link = page.getByRole('link', {name: `Sit it: ${name}`});
  await link.waitFor();
  return (await link.getAttribute('href')).split('/').at(-1);
}

/** Consents on the page and returns the id of the sitting. */
async function consent(page, practical, tell, check) {
  await page.goto(`${program.url}/sit/${practical}`);
  await page.getByLabel('I have read this').check();
  await page.getByLabel('My answers are kept').check();
  await page.getByLabel(tell, {exact: true}).check();
  if (check) await assertAccessible(page, 'consent');
  await page.getByRole('button', {name: 'Begin'}).click();
  await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
  return page.url().split('/').at(-1);
}

/** Sits from the first introduction to the outcome with a simulated eye at the keyboard; returns what was pressed. */
async function sit(page, sitting, observer, check) {
  const pressed = [];
  const rounds = [];
  const {symbols} = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
  let figures = 1;
  for (;;) {
    switch (await nextStage(page)) {
      case 'introduction': {
        const title = await page.locator('h1').textContent();
        rounds.push(title);
        figures = await page.locator('kbd', {hasText: 'Enter'}).count() === 0 ? 1 : 2;
        if (check) await assertAccessible(page, `introduction to ${title}`);
        await shot(page, `introduction-${observer.replace(':', '-')}-${rounds.length}`);
        await page.getByRole('button', {name: /^(Begin|Go on)$/}).click();
        await page.waitForSelector('main.stage');
        break;
      }
      case 'plate': {
        const label = await page.locator('main.stage').getAttribute('aria-label');
        const read = await eyeReads(program, observer, await platePixels(page), {symbols, figures});
        if (check && pressed.length < 2) await assertAccessible(page, `plate ${pressed.length + 1}`);
        if (pressed.length < 2 || figures === 2) await shot(page, `plate-${observer.replace(':', '-')}-${pressed.length}`);
        for (const symbol of read) await page.keyboard.press(symbol);
        if (read.length === 0) await page.keyboard.press('n');
        else if (figures === 2) await page.keyboard.press('Enter');
        pressed.push({figures, symbols: read, label});
        await page.waitForFunction((before) => {
          const stage = document.querySelector('main.stage');
          return stage === null || stage.getAttribute('aria-label') !== before || stage.querySelector('.no-figure:disabled') !== null;
        }, label);
        break;
      }
      case 'outcome':
        return {pressed, rounds};
    }
  }
}

/**
 * What the database holds of a sitting, one row an answer. Null where it cannot be asked: without SQLite's own client,
 * or for a stand-in that keeps nothing on disk.
 */
async function storedAnswers(sitting) {
  if (!existsSync(program.data) || !existsSync('/usr/bin/sqlite3')) return null;
  const [name] = readdirSync(program.data).filter((candidate) => /\.(sqlite3?|db)$/.test(candidate));
  assert.ok(name, `a database lies in ${program.data}`);
  const {stdout} = await run('/usr/bin/sqlite3', ['-readonly', '-json', join(program.data, name),
    `SELECT item, symbols FROM answers WHERE sitting_id = '${sitting}'`]);
  return stdout.trim() === '' ? [] : JSON.parse(stdout);
}

/** Everything pressed arrived, once, in the order shown. */
async function assertRecorded(t, sitting, pressed, outcome) {
  const state = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
  assert.equal(state.state, 'ended');
  assert.equal(state.answered, pressed.length, 'as many answers are saved as were pressed');
  assert.deepEqual(outcome.plates.map((plate) => plate.answered), pressed.map(({symbols}) => symbols), 'each answer is the one pressed');
  assert.deepEqual(new Set(outcome.plates.map((plate) => plate.end)), new Set(['answered']));
  const stored = await storedAnswers(sitting);
  if (stored === null) return t.diagnostic('the database was not looked at: no sqlite3 here, or nothing on disk');
  const shown = outcome.plates.map((plate, at) => ({item: plate.item, symbols: pressed[at].symbols}));
  const byItem = (a, b) => a.item - b.item;
  assert.deepEqual(stored.map(({item, symbols}) => ({item, symbols: JSON.parse(symbols)})).sort(byItem), shown.sort(byItem), 'the database holds what was pressed');
}

describe('a practical', () => {
  let practical;

  test('is started on the start page', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(program.url);
    await page.getByRole('heading', {level: 1}).waitFor();
    await page.getByText('There is none yet').waitFor();
    await assertAccessible(page, 'start, empty');
    practical = await startPractical(page, 'soft lantern');
    await assertAccessible(page, 'start');
    await shot(page, 'start');
    const {practicals} = (await call(program, 'GET', '/api/practicals')).body;
    assert.deepEqual(practicals.map(({id, name, exposure_ms, sittings}) => ({id, name, exposure_ms, sittings})), [
      {id: practical, name: 'soft lantern', exposure_ms: 1000 * EXPOSURE_S, sittings: 0},
    ]);
    assert.match(await page.locator('main').innerText(), /not for diagnosis/);
    quiet();
    await context.close();
  });

  test('nothing is consented to or chosen for anybody', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(`${program.url}/sit/${practical}`);
    await page.getByLabel('I have read this').waitFor();
    const checked = await page.locator('input:checked').evaluateAll((inputs) => inputs.map((input) => input.id));
    assert.deepEqual(checked, ['sex-none']);
    await page.getByRole('button', {name: 'Begin'}).click();
    assert.match(page.url(), /\/sit\//, 'Begin without consent leads nowhere');
    await shot(page, 'consent');
    quiet();
    await context.close();
  });

  test('a normal eye sits it and is told', {timeout: 300_000}, async (t) => {
    const {page, context, quiet} = await openPage(browser, program.url);
    const sitting = await consent(page, practical, 'Tell me', true);
    const {pressed, rounds} = await sit(page, sitting, 'normal', true);
    const outcome = (await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body;
    await assertRecorded(t, sitting, pressed, outcome);
    const missed = outcome.plates.some((plate) => plate.round === 'first' && !plate.as_drawn);
    assert.equal(rounds.includes('Which-kind round'), missed, 'the which-kind round comes if, and only if, the first round had a miss');
    assert.ok(['normal', 'cannot tell'].includes(outcome.verdict), `the verdict is ${outcome.verdict}`);
    // Somebody at 20 nm or more can answer as a normal observer does, so either may fit best.
    assert.match(outcome.evidence[0].observer, /^normal$|:2[0-9.]+$/);
    await assertOutcomePage(page, outcome);
    quiet();
    await context.close();
  });

  test('a protanope sits it, decides at the end and is told', {timeout: 300_000}, async (t) => {
    const {page, context, quiet} = await openPage(browser, program.url);
    const sitting = await consent(page, practical, 'I’ll decide later', false);
    const {pressed, rounds} = await sit(page, sitting, 'protan:0', false);
    assert.deepEqual(rounds, ['Warm-up', 'First round', 'Which-kind round', 'Blue–yellow round']);
    const neutral = (await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body;
    assert.equal(neutral.told, false, 'nothing is told before it is asked for');
    await page.getByRole('heading', {name: 'Thank you'}).waitFor();
    await assertAccessible(page, 'outcome, not told');
    await shot(page, 'outcome-choice');
    await page.getByRole('button', {name: 'Tell me', exact: true}).click();
    await page.getByRole('heading', {name: 'What fits best'}).waitFor();
    const outcome = (await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body;
    await assertRecorded(t, sitting, pressed, outcome);
    assert.match(outcome.evidence[0].observer, /^protan/);
    const protan = outcome.kinds.find(({kind}) => kind === 'protan');
    assert.ok(protan.evidence_only > 0.5, `P(protan | answers alone) = ${protan.evidence_only}`);
    await assertOutcomePage(page, outcome);
    await assertPicturesFollowTheObserver(page);
    quiet();
    await context.close();
  });

  test('who asked not to be told is told nothing', {timeout: 300_000}, async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    const sitting = await consent(page, practical, 'Don’t tell me', false);
    await sit(page, sitting, 'protan:0', false);
    await page.getByRole('heading', {name: 'Thank you'}).waitFor();
    const words = await page.locator('main').innerText();
    assert.doesNotMatch(words, /protan|deutan|tritan|normal|wrong|correct/i);
    assert.equal(await page.getByRole('button', {name: 'Tell me'}).count(), 0);
    assert.equal((await call(program, 'GET', `/api/sittings/${sitting}/outcome/plates/0?as=original`)).status, 403);
    await page.getByRole('button', {name: 'Delete this sitting'}).click();
    await page.getByRole('button', {name: 'Yes, delete it'}).click();
    await page.getByRole('heading', {name: 'Deleted'}).waitFor();
    assert.equal((await call(program, 'GET', `/api/sittings/${sitting}`)).status, 404);
    quiet();
    await context.close();
  });
});

/** The page says what the API says, with the caution first and last. */
async function assertOutcomePage(page, outcome) {
  await page.getByRole('heading', {name: 'Plate by plate'}).waitFor();
  const words = await page.locator('main').innerText();
  assert.equal(words.split(/not for diagnosis/).length - 1, 2, 'the intended use stands twice');
  assert.ok(words.indexOf('not for diagnosis') < words.indexOf('What fits best'), 'and before anything is said');
  assert.ok(words.toLowerCase().includes(outcome.summary.replace(/\.$/, '').toLowerCase()), 'the summary stands on the page');
  assert.doesNotMatch(words.replaceAll(/not for diagnosis, screening/gi, ''), /\b(screening|passed|failed|pass|fail)\b/i);
  const rows = await page.locator('table').first().locator('tbody tr').count();
  assert.equal(rows, outcome.evidence.length);
  assert.equal(await page.locator('.outcome-plate').count(), outcome.plates.length);
  for (const card of await page.locator('.outcome-plate').all()) {
    await card.scrollIntoViewIfNeeded();
    await card.locator('canvas').nth(1).waitFor();
  }
  await assertAccessible(page, 'outcome');
  await shot(page, `outcome-${outcome.verdict.replaceAll(' ', '-')}`);
}

/** The picture beside a plate is the one the API gives for the observer chosen, byte for byte. */
async function assertPicturesFollowTheObserver(page) {
  const sitting = page.url().split('/').at(-2);
  const card = page.locator('.outcome-plate').first();
  const item = Number((await card.getAttribute('aria-labelledby')).replace('plate-', ''));
  const shownHash = (at) => card.locator('canvas').nth(at).evaluate(async (canvas) => {
    const {data} = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    const digest = await crypto.subtle.digest('SHA-256', data.filter((_, index) => index % 4 !== 3));
    return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
  });
  const servedHash = async (as) => {
    const response = await fetch(`${program.url}/api/sittings/${sitting}/outcome/plates/${item}?as=${encodeURIComponent(as)}`);
    return createHash('sha256').update(Buffer.from(await response.arrayBuffer())).digest('hex');
  };
  assert.equal(await shownHash(0), await servedHash('original'));
  assert.equal(await shownHash(1), await servedHash('protan:0'));
  // The claim about another eye stands beside its error, as the program computed it.
  await card.getByText(/error: mean \d+\.\d+, largest \d+\.\d+/).waitFor();
  await page.getByLabel('Show every plate for the observer').selectOption('tritan');
  await card.getByText('for tritan').waitFor();
  await card.locator('canvas').nth(1).waitFor();
  const tritan = await servedHash('tritan');
  assert.notEqual(tritan, await servedHash('protan:0'));
  assert.equal(await shownHash(1), tritan);
}
