// The check of the screen: each step and skipping it, pixels that are the display's own, what is sent, the result, and the
// watch that ends a record.
//
//   COPUNCTAL_PROGRAM   the program, or test/browser/mock_server.mjs (default build/release/copunctal)
//   COPUNCTAL_SHOTS     a directory for pictures of the page, for looking at

import assert from 'node:assert/strict';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, shot, startBoth} from './harness.mjs';

const {program, browser} = await startBoth();

async function openCheck(options = {}) {
  const opened = await openPage(browser, program.url, {viewport: {width: 1280, height: 800}, ...options});
  const sent = [];
  opened.page.on('request', (request) => {
    if (request.method() === 'POST') sent.push({path: new URL(request.url()).pathname, body: request.postDataJSON()});
  });
  await opened.page.goto(`${program.url}/display`);
  await opened.page.getByRole('heading', {name: 'Size'}).waitFor();
  return {...opened, sent};
}

const goTo = (page, name) => page.getByRole('button', {name: new RegExp(`^\\d ${name}`)}).click();
const said = (page, name) => page.getByRole('button', {name: new RegExp(`^\\d ${name}`)}).locator('.step-found').textContent();

async function recordIt(page) {
  await goTo(page, 'Result');
  await page.getByRole('button', {name: 'Record this check'}).click();
  await page.getByText('What was found').waitFor();
}

/** The codes of one column of the screen across the canvas that stands, as it was really shown, in the display's pixels. */
async function shownColumn(page) {
  const picture = (await page.screenshot({scale: 'device'})).toString('base64');
  return page.evaluate(async (base64) => {
    const bytes = Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0));
    const bitmap = await createImageBitmap(new Blob([bytes], {type: 'image/png'}));
    const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d', {willReadFrequently: true});
    context.drawImage(bitmap, 0, 0);
    const canvas = document.querySelector('canvas.device-pixels');
    const box = canvas.getBoundingClientRect();
    const [left, top] = [box.left, box.top].map((place) => place * devicePixelRatio);
    const column = (x) => {
      const {data} = context.getImageData(Math.round(left) + x, Math.round(top), 1, canvas.height);
      return Array.from({length: canvas.height}, (_, row) => Array.from(data.slice(4 * row, 4 * row + 3)));
    };
    return {offGrid: [left, top].map((place) => Math.abs(place - Math.round(place))), edge: column(5), middle: column(Math.round(canvas.width / 2))};
  }, picture);
}

describe('steps', () => {
  test('all skipped: everything is sent as not done, and stays said', async () => {
    const {page, context, quiet, sent} = await openCheck();
    await page.getByText('Screen: assumed, not checked.').waitFor();
    const headings = [];
    while (await page.getByRole('button', {name: 'Record this check'}).count() === 0) {
      headings.push(await page.locator('.steps h2').textContent());
      await assertAccessible(page, `display, ${headings.at(-1)}`);
      await page.getByRole('button', {name: 'Skip, not done'}).click();
    }
    assert.deepEqual(headings, ['Size', 'Tone curve', 'Black steps', 'White steps', 'Neutral greys', 'Room and settings', 'Refresh rate']);
    await assertAccessible(page, 'display, result to come');
    assert.deepEqual(await page.locator('.summary td').allTextContents(), Array(7).fill('not done'));
    await page.getByRole('button', {name: 'Record this check'}).click();
    await page.getByText('What was found').waitFor();
    const {body} = sent.find(({path}) => path === '/api/display-records');
    assert.deepEqual(
      [body.card_px, body.tone_matches, body.black_step, body.white_step, body.neutral, body.night_mode_off, body.adapted, body.room_light, body.refresh_hz],
      [null, [], null, null, null, false, false, null, null],
    );
    assert.deepEqual([body.device_pixel_ratio, body.screen_px, body.gamut], [1, [1280, 800], 'srgb']);
    quiet();
    await context.close();
  });

  test('all done, by keyboard and mouse: what is sent is what was set, and the result is the program’s', {timeout: 120_000}, async () => {
    const {page, context, quiet, sent} = await openCheck();
    await page.getByRole('slider', {name: 'Card'}).focus();
    for (const key of ['ArrowRight', 'ArrowRight', 'PageUp', 'ArrowLeft']) await page.keyboard.press(key);
    assert.equal(await said(page, 'Size'), 'card 334 px long');
    const card = await page.locator('.card-outline').boundingBox();
    assert.ok(Math.abs(card.width / card.height - 85.6 / 53.98) < 0.01, 'the outline has the card’s shape');
    await page.mouse.move(card.x + card.width - 20, card.y + card.height / 2);
    await page.mouse.down();
    await page.mouse.move(card.x + card.width - 4, card.y + card.height / 2, {steps: 4});
    await page.mouse.up();
    assert.equal(await said(page, 'Size'), 'card 350 px long');
    await page.getByRole('button', {name: 'Next'}).click();

    for (let task = 0; task < 9; task++) {
      const slider = page.getByRole('slider', {name: 'Code of the field'});
      await slider.fill(String(120 + task));
      await slider.press('ArrowRight');
      if (task === 4) await page.getByRole('button', {name: 'Skip this one'}).click();
      else await page.getByRole('button', {name: 'They look alike'}).click();
    }
    assert.equal(await said(page, 'Tone curve'), '8 of 9 compared');
    await assertAccessible(page, 'display, tone compared');
    await goTo(page, 'Black steps');
    await page.getByRole('radio', {name: '3', exact: true}).check();
    await goTo(page, 'White steps');
    await page.getByRole('radio', {name: 'none of these'}).check();
    await page.getByRole('radio', {name: '231'}).check();
    await assertAccessible(page, 'display, more white steps');
    await goTo(page, 'Neutral greys');
    await page.getByRole('radio', {name: /^tinted/}).check();
    await goTo(page, 'Room and settings');
    await page.getByLabel(/^Night mode/).check();
    await page.getByLabel(/^Everybody/).check();
    await page.getByRole('radio', {name: 'as in an office'}).check();
    await page.getByLabel(/^What whoever leads/).fill('Blinds down, lamps on.');
    await goTo(page, 'Refresh rate');
    await page.getByRole('button', {name: 'Count for two seconds'}).click();
    await page.getByText(/^\d+\.\d Hz, frames vary by/).last().waitFor();
    await goTo(page, 'Result');
    await page.getByRole('combobox', {name: 'Display'}).selectOption('srgb/wled');
    await page.getByRole('button', {name: 'Record this check'}).click();
    await page.getByText('What was found').waitFor();

    const {body} = sent.find(({path}) => path === '/api/display-records');
    assert.equal(body.display, 'srgb/wled');
    assert.equal(body.card_px, 350);
    assert.equal(body.tone_matches.length, 8);
    assert.deepEqual(body.tone_matches[0], {channel: 'r', share: 0.5, code: 121});
    assert.ok(!body.tone_matches.some(({channel, share}) => channel === 'g' && share === 0.25), 'the one skipped is not there');
    assert.deepEqual([body.black_step, body.white_step, body.neutral, body.night_mode_off, body.adapted, body.room_light], [3, 231, 'tinted', true, true, 'office']);
    assert.equal(body.statement, 'Blinds down, lamps on.');
    assert.ok(body.refresh_hz > 5 && body.refresh_hz < 300 && body.frame_spread_ms >= 0 && Number.isInteger(body.dropped_frames));

    const {current} = (await call(program, 'GET', '/api/display-records/current')).body;
    const words = (await page.locator('main').innerText()).toLowerCase();
    for (const {what, state, words: finding} of current.findings) {
      for (const part of [what, state, finding]) assert.ok(words.includes(part.replace(/\.$/, '').toLowerCase()), part);
    }
    assert.ok(words.includes(current.words.replace(/\.$/, '').toLowerCase()));
    for (const end of ['measured', 'profile', 'assumed', 'zoomed', 'another screen', 'gamut', 'not for diagnosis']) assert.ok(words.includes(end), end);
    const marks = await page.locator('.findings tbody tr').evaluateAll((rows) => rows.map((row) => [row.querySelector('.finding-mark').textContent, row.querySelector('.finding-state').textContent.trim().split(' ').at(-1)]));
    assert.equal(new Set(marks.map(([mark]) => mark)).size, new Set(marks.map(([, word]) => word)).size, 'a mark for each state');
    await assertAccessible(page, 'display, result');
    await shot(page, 'display-result');
    quiet();
    await context.close();
  });
});

describe('the display’s own pixels', () => {
  for (const ratio of [1, 1.25, 2]) {
    test(`lines of a raster are one pixel high at a ratio of ${ratio}, and the field has its code`, async () => {
      const {page, context} = await openCheck({deviceScaleFactor: ratio});
      await goTo(page, 'Tone curve');
      await page.getByRole('slider', {name: 'Code of the field'}).fill('77');
      for (const lit of [[1, 0], [1, 0, 0, 0], [0, 1, 1, 1]]) {
        await page.locator('canvas.device-pixels').scrollIntoViewIfNeeded();
        const {offGrid, edge, middle} = await shownColumn(page);
        assert.ok(offGrid.every((rest) => rest < 0.05), `the canvas lies on the pixels (${offGrid})`);
        assert.deepEqual(edge, edge.map((_, row) => [lit[row % lit.length] * 255, 0, 0]));
        assert.deepEqual(middle[Math.round(middle.length / 2)], [lit.length === 2 ? 77 : 100, 0, 0]);
        await page.getByRole('button', {name: 'Skip this one'}).click();
      }
      await context.close();
    });
  }
});

describe('the record', () => {
  test('is said on the pages that rely on the screen, and ends when the page is zoomed', async () => {
    const {page, context, quiet} = await openCheck();
    await recordIt(page);
    const {current} = (await call(program, 'GET', '/api/display-records/current')).body;
    const name = current.words.replace(/\.$/, '');
    const practical = (await call(program, 'POST', '/api/practicals', {})).body;
    for (const path of ['/', `/sit/${practical.id}`, '/eyes']) {
      await page.goto(program.url + path);
      await page.locator('.display-status', {hasText: name}).waitFor();
      assert.equal(await page.locator('.display-status', {hasText: 'another browser'}).count(), 0);
      assert.equal(await page.locator('.display-status a').getAttribute('href'), '/display');
    }
    const client = await context.newCDPSession(page);
    await client.send('Emulation.setDeviceMetricsOverride', {width: 1024, height: 640, deviceScaleFactor: 1.25, mobile: false, screenWidth: 1280, screenHeight: 800});
    await page.locator('.display-status', {hasText: 'ended when the page was zoomed'}).waitFor();
    const ended = (await call(program, 'GET', '/api/display-records/current')).body.current;
    assert.deepEqual([ended.record, ended.ended, ended.valid], [current.record, 'zoom', false]);
    quiet();
    await context.close();
  });

  test('ends when the window goes to another screen', async () => {
    const {page, context, sent} = await openCheck();
    await recordIt(page);
    await page.evaluate(() => Object.defineProperty(screen, 'availLeft', {configurable: true, get: () => 1920}));
    await page.getByText('This check no longer holds: the window went to another screen').waitFor();
    assert.deepEqual(sent.at(-1).body, {reason: 'moved'});
    assert.equal(sent.filter(({path}) => path.endsWith('/end')).length, 1, 'once');
    await page.getByRole('button', {name: 'Check again'}).click();
    await page.getByRole('heading', {name: 'Size'}).waitFor();
    await context.close();
  });

  test('another browser says where it was checked, and does not end it', async () => {
    const first = await openCheck();
    await recordIt(first.page);
    const other = await openPage(browser, program.url, {viewport: {width: 390, height: 844}, deviceScaleFactor: 3});
    await other.page.goto(program.url);
    await other.page.getByText('This was checked in another browser').waitFor();
    await other.page.waitForTimeout(2500);
    assert.equal((await call(program, 'GET', '/api/display-records/current')).body.current.valid, true);
    other.quiet();
    await other.context.close();
    await first.context.close();
  });

  test('zooming during the check puts size and tone curve back to not done, and says so', async () => {
    const {page, context} = await openCheck();
    await page.getByRole('button', {name: 'It fits as it is'}).click();
    await goTo(page, 'Black steps');
    await page.getByRole('radio', {name: '2', exact: true}).check();
    const client = await context.newCDPSession(page);
    await client.send('Emulation.setDeviceMetricsOverride', {width: 1024, height: 640, deviceScaleFactor: 1.25, mobile: false});
    await page.getByText('The zoom changed').waitFor();
    assert.deepEqual([await said(page, 'Size'), await said(page, 'Black steps')], ['not done', 'code 2 is the first seen']);
    await context.close();
  });

  test('a check that is refused says why, and nothing found is lost', async () => {
    const {page, context} = await openCheck();
    await page.getByRole('button', {name: 'It fits as it is'}).click();
    await page.route('**/api/display-records', (route) => route.fulfill({status: 503, contentType: 'application/json', body: JSON.stringify({error: {
      code: 'unavailable', thing: 'store', place: '/', message: 'The disk is full.', remedy: 'Make room, then record again.',
    }})}));
    await goTo(page, 'Result');
    await page.getByRole('button', {name: 'Record this check'}).click();
    await page.getByRole('alert').getByText('Make room, then record again.').waitFor();
    await page.unroute('**/api/display-records');
    assert.equal(await said(page, 'Size'), 'card 323.5 px long');
    await page.getByRole('button', {name: 'Record this check'}).click();
    await page.getByText('What was found').waitFor();
    assert.equal(await page.getByRole('alert').count(), 0);
    await context.close();
  });
});

describe('sizes', () => {
  for (const [width, height] of [[1280, 800], [390, 844]]) {
    test(`${width} × ${height}: no step scrolls sideways`, async () => {
      const {page, context, quiet} = await openCheck({viewport: {width, height}});
      await page.getByRole('slider', {name: 'Card'}).press('End');
      for (const name of ['Size', 'Tone curve', 'Black steps', 'White steps', 'Neutral greys', 'Room and settings', 'Refresh rate', 'Result']) {
        await goTo(page, name);
        assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), name);
        await assertAccessible(page, `display, ${name} at ${width}`);
        await shot(page, `display-${name.toLowerCase().replaceAll(' ', '-')}-${width}`);
      }
      quiet();
      await context.close();
    });
  }
});
