// Sheets of paper: printed, typed in by keyboard, loaded as a file, scored, and not kept by the program.

import assert from 'node:assert/strict';
import {readdirSync, readFileSync, statSync} from 'node:fs';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, shot, startBoth} from './harness.mjs';

const {program, browser} = await startBoth();

describe('on paper', () => {
  test('a sheet is typed in by keyboard and scored as a sitting is', {timeout: 180_000}, async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(program.url);
    await page.getByRole('link', {name: 'On paper'}).click();
    await page.getByRole('button', {name: 'Add this sheet'}).waitFor();
    await assertAccessible(page, 'the paper page');
    const {sets} = (await call(program, 'GET', '/api/sets')).body;
    const used = sets.find((one) => one.in_use).set;
    const {plates} = (await call(program, 'GET', `/api/sets/${used}`)).body;

    // Added without a pseudonym it says what is missing, and keeps what was ticked.
    await page.getByRole('group', {name: 'Plate 1', exact: true}).getByLabel('no figure').focus();
    await page.keyboard.press('Space');
    await page.keyboard.press('Enter');
    await page.getByText('Give the sheet its pseudonym.').waitFor();
    await page.getByLabel('Pseudonym on the sheet').fill('quiet harbour');
    await page.keyboard.press('Enter');
    await page.getByText('1 sheet typed in').waitFor();

    // All as drawn: the choice is made with the arrows, the sheet added with Enter.
    await page.getByLabel('Pseudonym on the sheet').fill('calm ferry');
    const {plates: rows} = (await call(program, 'GET', `/api/sets/${used}/answer-rows`)).body;
    for (const [i, {drawn}] of plates.entries()) {
      for (let row = 0; row < rows[i].figures; ++row) {
        const group = page.getByRole('group', {name: rows[i].figures === 1 ? `Plate ${i + 1}` : `Plate ${i + 1}, row ${row + 1}`, exact: true});
        await group.getByLabel('nothing ticked').focus();
        // From the last choice on: the first, and so on to the symbol.
        for (let step = 0; step <= rows[i].symbols.indexOf(drawn[row]); ++step) await page.keyboard.press('ArrowRight');
        assert.ok(await group.getByLabel(drawn[row], {exact: true}).isChecked());
      }
    }
    await page.keyboard.press('Enter');
    await page.getByText('2 sheets typed in').waitFor();

    // A page loaded again still has them; the program never saw them.
    await page.reload();
    await page.getByText('2 sheets typed in').waitFor();
    await page.getByRole('button', {name: 'Score what was typed in'}).click();
    await page.getByText('2 sheets are scored.').waitFor({timeout: 60_000});
    const good = page.getByRole('article', {name: 'Sheet of calm ferry'}), odd = page.getByRole('article', {name: 'Sheet of quiet harbour'});
    await good.getByText('fit a normal observer best').waitFor();
    await good.getByText('Read as drawn: 10 of 10 vanishing plates, 2 of 2 blue–yellow plates.').waitFor();
    await odd.getByText('Not interpretable').waitFor();
    await odd.getByText('1 plate not read as drawn').click();
    await assertAccessible(page, 'scored sheets');
    await shot(page, 'paper-scored');
    for (const name of readdirSync(program.data, {recursive: true})) {
      const file = join(program.data, name);
      if (statSync(file).isFile()) assert.equal(readFileSync(file).includes('quiet harbour'), false, `${name} knows nothing of it`);
    }
    quiet();
    await context.close();
  });

  test('a file is taken whole or refused with its place', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await openPage(browser, program.url, {viewport: {width: 390, height: 844}});
    await page.goto(`${program.url}/paper`);
    const take = (csv) => page.getByLabel('A CSV file of answers').setInputFiles({name: 'answers.csv', mimeType: 'text/csv', buffer: Buffer.from(csv)});
    await page.getByLabel('A CSV file of answers').waitFor();
    await take('pseudonym,1,2\ncalm ferry,none,a\n');
    const alert = page.getByRole('alert');
    await alert.getByText('answers:2, column 3').waitFor();
    await take('pseudonym,1,2\ncalm ferry,none,none\n');
    await page.getByText('1 sheet is scored.').waitFor({timeout: 60_000});
    assert.equal(await alert.count(), 0);
    await take('x'.repeat(900_001));
    await page.getByText('The file is larger than 900 kB').waitFor();
    // More than browsers send when a page is closed.
    await take(`pseudonym,1,2\n${Array.from({length: 1100}, (_, i) => `person ${i} ${'x'.repeat(50)},none,none\n`).join('')}`);
    await page.getByText('1,100 sheets are scored.').waitFor({timeout: 60_000});
    await take('pseudonym,1,2\ncalm ferry,none,none\n');
    await page.getByText('1 sheet is scored.').waitFor();
    await shot(page, 'paper-390');
    assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll('main *')].filter((one) => one.getBoundingClientRect().right > innerWidth + 1 && one.closest('.scroll') === null).map((one) => `${one.tagName} ${one.className} ${one.textContent.slice(0, 40)}`)), [], 'nothing sticks out');
    await assertAccessible(page, 'the paper page on a phone');
    quiet();
    await context.close();
  });

  test('the sheet and the table are there to take away', async () => {
    const {sets} = (await call(program, 'GET', '/api/sets')).body;
    const base = `${program.url}/api/sets/${sets[0].set}`;
    const pdf = await fetch(`${base}/answer-sheet`);
    assert.equal(pdf.headers.get('content-type'), 'application/pdf');
    assert.equal(Buffer.from(await pdf.arrayBuffer()).subarray(0, 5).toString(), '%PDF-');
    assert.match(await (await fetch(`${base}/answer-table`)).text(), /^pseudonym,/);
  });
});
