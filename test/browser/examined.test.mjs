// A sitting with an examiner, by keyboard: entries that stand until confirmed, a void reading and its repeat, the sheet, its
// signing, the other eye; plates that come again, a code to come back with, credit, and sheets that a class judges blind.

import assert from 'node:assert/strict';
import {describe, test} from 'node:test';

import {assertAccessible, call, eyeReads, openPage, plateStands, shot, startBoth} from './harness.mjs';

const {program, browser} = await startBoth();

const stateOf = async (sitting) => (await call(program, 'GET', `/api/sittings/${sitting}`)).body;

/** Answers a sitting through the API: as an observer reads, or, without one, "no figure" to each. */
async function answerAll(sitting, observer = null, until = () => false) {
  for (let now = await stateOf(sitting), at = 0; now.round !== null && !until(now); at++) {
    const item = now.round.items.find(({answered}) => !answered);
    let symbols = [];
    if (observer !== null) {
      const picture = await fetch(`${program.url}/api/sittings/${sitting}/plates/${item.plate}`);
      symbols = await eyeReads(program, observer, Buffer.from(await picture.arrayBuffer()), {symbols: now.symbols, figures: now.round.figures});
    }
    const id = sitting.slice(0, 24) + now.round.name.length.toString(16).padStart(2, '0') + at.toString(16).padStart(6, '0');
    const reply = await call(program, 'PUT', `/api/sittings/${sitting}/answers/${id}`, {
      item: item.item, symbols, end: 'answered', onset_ms: 1000, response_ms: 2000, shown_ms: 1000, frames: 60, hidden: false, page_load: 'a'.repeat(32),
    });
    assert.equal(reply.status, 200, JSON.stringify(reply.body));
    now = reply.body.state;
  }
}

describe('a sitting with an examiner', () => {
  test('is entered by keyboard, voided and repeated, signed off, and followed by the other eye', {timeout: 200_000}, async () => {
    const practical = (await call(program, 'POST', '/api/practicals', {name: 'In pairs', exposure_ms: 1000})).body;
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(`${program.url}/sit/${practical.id}`);
    await page.getByLabel('Tell me', {exact: true}).check();
    await page.getByLabel('With an examiner').check();
    await page.getByLabel('The right eye first, then the left').check();
    await page.getByLabel('I have read this').check();
    await page.getByText('Credit for being here').click();
    await assertAccessible(page, 'consent with an examiner');
    await shot(page, 'examined-consent');
    await page.getByLabel('Name or number').fill('s4711');
    await page.getByRole('button', {name: 'Enter me'}).click();
    await page.getByText('You are on the list.').waitFor();
    await page.getByRole('button', {name: 'Begin'}).click();
    await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
    const sitting = page.url().split('/').at(-1);
    assert.equal((await stateOf(sitting)).eye, 'right');

    // The warm-up: nothing is sent before Enter, and the marks go along.
    await page.locator('.introduction .primary.large:enabled').click();
    await plateStands(page);
    const symbol = (await stateOf(sitting)).symbols[0];
    await page.keyboard.press('Enter');
    await page.keyboard.press(symbol);
    await page.keyboard.press('c');
    await page.keyboard.press('n');
    await page.keyboard.press('h');
    await page.keyboard.press('l');
    await page.waitForTimeout(1500);
    assert.equal((await stateOf(sitting)).answered, 0, 'an entry stands until it is confirmed, also when the plate has gone');
    await assertAccessible(page, 'an entry of an examiner');
    await shot(page, 'examined-entry');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', {name: 'First round'}).waitFor();

    // The first round: its first reading is void, and comes again at the end.
    await page.locator('.introduction .primary.large:enabled').click();
    await plateStands(page);
    await page.keyboard.press('n');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', {name: /Plate 2 of 11 comes next/}).waitFor();
    await page.getByText('Entered last: no figure. Declare it void?').click();
    await assertAccessible(page, 'between plates');
    await shot(page, 'examined-between');
    await page.getByRole('button', {name: 'Void: the person was not looking'}).click();
    await page.getByText('11 plates, each shown').waitFor();
    const voided = await stateOf(sitting);
    assert.equal(voided.round.items.length, 12);
    assert.ok(voided.round.items.at(-1).repeat);
    await answerAll(sitting, 'normal');

    await page.goto(`${program.url}/sitting/${sitting}`);
    await page.waitForURL(/\/sheet$/);
    await page.getByText('void: not looking').waitFor();
    const sheet = (await call(program, 'GET', `/api/sittings/${sitting}/sheet`)).body;
    const first = sheet.rows[0];
    assert.deepEqual([first.entered, first.first_symbols, first.hesitated, first.end], [[], [symbol], true, 'late']);
    assert.ok(sheet.shows_drawn);
    await assertAccessible(page, 'a sheet');
    await page.getByLabel('The other eye was covered').check();
    await page.getByLabel('Examined by').fill('J. K.');
    await page.getByLabel('Signed by').fill('S. T.');
    await shot(page, 'examined-sheet');
    await page.getByRole('button', {name: 'Sign off'}).click();
    await page.getByText('Examined by J. K.; signed by S. T.').waitFor();

    await page.getByRole('button', {name: /Now the left eye/}).click();
    await page.waitForURL(/\/sitting\/[0-9a-f]{32}$/);
    const left = await stateOf(page.url().split('/').at(-1));
    assert.equal(left.eye, 'left');
    assert.equal(left.pseudonym, voided.pseudonym);

    await page.goto(`${program.url}/practical/${practical.id}`);
    await page.getByText('Who took part, for credit').click();
    await page.getByText('s4711').waitFor();
    await page.getByLabel('People', {exact: true}).fill('5');
    await page.getByRole('button', {name: 'Make a rota'}).click();
    await page.getByText('screen 2: 3 sits, 4 examines').waitFor();
    await assertAccessible(page, 'a practical with a rota');
    await shot(page, 'examined-practical');
    quiet();
    await context.close();
  });
});

describe('plates that come again', () => {
  test('may be left out, and a code leads back to the outcome', {timeout: 200_000}, async () => {
    const practical = (await call(program, 'POST', '/api/practicals', {again: true, course: 'Perception', group: 'Tuesday', keep_until: '2099-12-31'})).body;
    const begun = (await call(program, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell: 'later', sex_at_birth: null})).body;
    await answerAll(begun.sitting, 'normal', ({round}) => round.name === 'again');
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(`${program.url}/sitting/${begun.sitting}`);
    await page.getByRole('heading', {name: 'Some plates once more'}).waitFor();
    await assertAccessible(page, 'plates once more');
    await shot(page, 'again');
    await page.getByRole('button', {name: 'Leave it at that'}).click();
    await page.waitForURL(/outcome$/);
    await page.getByRole('button', {name: 'Give me a code'}).click();
    const code = await page.locator('.class-code').textContent();
    assert.match(code, /^[0-9A-Z]{4}(-[0-9A-Z]{4}){3}$/);
    await assertAccessible(page, 'an outcome with a code');
    await shot(page, 'collect-code');
    await page.goto(`${program.url}/collect`);
    await page.getByLabel('Code').fill('not a code');
    await page.getByRole('button', {name: 'Go there'}).click();
    await page.getByText('sixteen letters and digits', {exact: false}).first().waitFor();
    await assertAccessible(page, 'collecting');
    await page.getByLabel('Code').fill(code.toLowerCase());
    await page.getByRole('button', {name: 'Go there'}).click();
    await page.waitForURL(`**/sitting/${begun.sitting}/outcome`);
    await page.goto(program.url);
    await page.getByText('Perception, Tuesday').waitFor();
    await page.getByText('kept until 2099-12-31').waitFor();
    quiet();
    await context.close();
  });
});

describe('sheets without names', () => {
  test('are judged by the class and compared with the truth', {timeout: 300_000}, async () => {
    const practical = (await call(program, 'POST', '/api/practicals', {name: 'Blind', prepare: true, loans: ['protan:0']})).body;
    for (;;) {
      const {body} = await call(program, 'GET', `/api/practicals/${practical.id}`);
      if (body.loans_drawn.every(({ready}) => ready)) break;
      await new Promise((resolve) => setTimeout(resolve, 500));
    }
    assert.equal((await call(program, 'POST', `/api/practicals/${practical.id}/open`, {men: 6, women: 6, misses: 3})).status, 200);
    for (let person = 0; person < 10; person++) {
      const begun = (await call(program, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell: 'tell', sex_at_birth: null, on_loan: true, purposes: ['class']})).body;
      await answerAll(begun.sitting, person < 6 ? 'normal' : null);
    }
    assert.equal((await call(program, 'GET', `/api/practicals/${practical.id}/sheets?rater=${'b'.repeat(32)}`)).status, 409);
    assert.equal((await call(program, 'POST', `/api/practicals/${practical.id}/close`, {})).status, 200);
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(`${program.url}/sheets/${practical.id}`);
    await page.getByRole('heading', {name: 'Sheet 1', exact: true}).waitFor();
    for (let sheet = 1; sheet <= 10; sheet++) {
      await page.getByRole('heading', {name: `Sheet ${sheet}`, exact: true}).waitFor();
      const missed = await page.getByRole('cell', {name: 'no', exact: true}).count();
      await page.getByLabel(missed > 3 ? '5, surely not normal' : '1, surely normal').check();
      await page.getByLabel(missed > 3 ? 'protan' : 'normal', {exact: true}).check();
      await page.getByText(`${sheet} of 10 judged.`).waitFor();
      if (sheet === 1) {
        await assertAccessible(page, 'a sheet to judge');
        await shot(page, 'sheets');
      }
      if (sheet < 10) await page.getByRole('button', {name: 'The next sheet'}).click();
    }
    await page.goto(`${program.url}/practical/${practical.id}`);
    await page.getByText('1 person has judged, 10 sheets in all, of 10: 5 with lent eyes, 5 with own ones by lot.').waitFor();
    await assertAccessible(page, 'sheets judged');
    await shot(page, 'sheets-result');
    const result = (await call(program, 'GET', `/api/practicals/${practical.id}/sheets-result`)).body;
    assert.equal(result.raters, 1);
    assert.equal(result.ratings, 10);
    assert.ok(result.area !== null && result.computed_area > 0.5);
    quiet();
    await context.close();
  });
});
