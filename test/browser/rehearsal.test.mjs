// A rehearsal in the browser of whoever runs the class: opened, watched, closed and debriefed, marked on every page, and
// gone afterwards.

import assert from 'node:assert/strict';
import {existsSync, readdirSync, readFileSync, statSync} from 'node:fs';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, shot, startBoth} from './harness.mjs';

const WORDS = 'INVENTED: rehearsal, nobody took part';
const {program, browser} = await startBoth();

async function assertMarked(page, where) {
  await page.getByRole('complementary', {name: 'Rehearsal'}).getByText(WORDS).waitFor();
  assert.ok((await page.title()).startsWith(WORDS), `the title of ${where} says so: ${await page.title()}`);
}

function filesWith(words) {
  return readdirSync(program.data, {recursive: true}).filter((name) => {
    const file = join(program.data, name);
    return statSync(file).isFile() && readFileSync(file).includes(words);
  });
}

/** The same page in a phone's window: nothing sticks out, and axe finds nothing. */
async function assertFitsPhone(page, where) {
  const before = page.viewportSize();
  await page.setViewportSize({width: 390, height: 844});
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth), `${where}: nothing sticks out`);
  await assertAccessible(page, `${where}, on a phone`);
  await page.setViewportSize(before);
}

describe('a rehearsal', () => {
  test('goes from opening to the debrief as on the day, says so on every page, and leaves nothing', {timeout: 300_000}, async () => {
    const {body: real} = await call(program, 'POST', '/api/practicals', {name: 'The real one', prepare: true});
    const own = await openPage(browser, program.url);
    await own.page.goto(`${program.url}/practical/${real.id}`);
    await own.page.getByLabel('Invented people').fill('12');
    await own.page.getByLabel('Seed of the class').fill('3');
    await assertAccessible(own.page, 'a practical before a rehearsal');
    await assertFitsPhone(own.page, 'a practical before a rehearsal');
    await own.page.getByRole('button', {name: 'Rehearse with an invented class'}).click();
    const way = own.page.getByRole('link', {name: 'To the rehearsal'});
    await way.waitFor();
    const address = await way.getAttribute('href');
    assert.equal(await own.page.getByRole('complementary', {name: 'Rehearsal'}).count(), 0, 'the real one is not marked');
    await shot(own.page, 'rehearsal-button');

    const base = new URL(address).origin;
    const rehearsed = {url: base};
    const id = address.split('/').at(-1);
    const {page, context, quiet} = await openPage(browser, base);
    await page.goto(address);
    await assertMarked(page, 'the page that prepares it');
    await page.getByText(/protan, 0 nm: (all plates are drawn|drawn, but for)/).waitFor({timeout: 120_000});
    assert.equal(await page.getByRole('button', {name: 'Rehearse with an invented class'}).count(), 0, 'none inside a rehearsal');
    await page.getByLabel('Men expected', {exact: true}).fill('6');
    await page.getByLabel('Women expected').fill('6');
    await page.getByRole('button', {name: 'Seal the card and open'}).click();
    await page.getByRole('region', {name: 'People by pseudonym'}).getByRole('row').nth(3).waitFor({timeout: 60_000});
    await assertMarked(page, 'the page that watches');
    await assertAccessible(page, 'a rehearsal that is watched');
    await assertFitsPhone(page, 'a rehearsal that is watched');
    // Who comes lengthens the list; what is pressed on the day stands above it.
    const [close, watch] = await Promise.all(['Close it', 'Who is where'].map((name) => page.getByRole('heading', {name}).evaluate((element) => element.getBoundingClientRect().top)));
    assert.ok(close < watch, 'closing stays where it is');
    assert.equal(await page.getByText('copunctal practical export').count(), 0, 'nothing of it is to be kept');
    await shot(page, 'rehearsal-watch');
    assert.notDeepEqual(filesWith(WORDS), [], 'while it runs, it is kept');

    // Somebody who opens a participant's page of it is told, too.
    for (const path of [`/sit/${id}`, '/join', '/', '/plates']) {
      await page.goto(base + path);
      await assertMarked(page, path);
      await assertFitsPhone(page, path);
    }
    await page.goto(address);
    for (let tries = 0; tries < 600; ++tries) {
      if ((await call(rehearsed, 'GET', '/api/rehearsal')).body.rehearsal.stage === 'has played') break;
      await new Promise((done) => setTimeout(done, 200));
    }
    const {report} = (await call(rehearsed, 'GET', '/api/rehearsal')).body.rehearsal;
    assert.deepEqual([report.people, report.sittings, report.ended, report.late, report.refused, report.off_record], [12, 11, 11, 2, 1, 1]);
    assert.ok(report.queued > 0 && report.sent_again > 0, 'the network was cut, and answers came late and twice');
    await page.getByRole('button', {name: 'Close the practical'}).click();
    await page.getByRole('button', {name: 'Close it for good'}).click();
    await page.getByRole('heading', {name: 'What the class read'}).waitFor();
    await assertMarked(page, 'the debrief');
    await assertAccessible(page, 'the debrief of a rehearsal');
    await assertFitsPhone(page, 'the debrief of a rehearsal');
    await shot(page, 'rehearsal-debrief');
    const debrief = (await call(rehearsed, 'GET', `/api/practicals/${id}/debrief`)).body;
    assert.equal(debrief.invented, WORDS);
    assert.equal(debrief.own + debrief.on_loan, 10, 'all but the one who refused and the one off the record');

    // Nothing of it at the real one, and nothing anywhere once it is ended.
    assert.deepEqual((await call(program, 'GET', '/api/practicals')).body.practicals.map(({name}) => name), ['The real one']);
    await page.getByRole('button', {name: 'End it and remove it'}).click();
    await page.getByText('nothing of it is left').waitFor();
    for (let tries = 0; tries < 100 && existsSync(join(program.data, 'rehearsal')); ++tries) await new Promise((done) => setTimeout(done, 100));
    assert.equal(existsSync(join(program.data, 'rehearsal')), false);
    assert.deepEqual(filesWith(WORDS), []);
    assert.deepEqual(filesWith(id), []);
    await own.page.getByRole('button', {name: 'Rehearse with an invented class'}).waitFor();
    own.quiet();
    quiet();
    await context.close();
    await own.context.close();
  });
});
