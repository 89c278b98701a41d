// What a sitting's page promises when things go wrong or are done another way: the keyboard alone, exact pixels, exact
// time, lost connections, reloads, refusals, deletion. Needs the program (see practical.test.mjs), no eye.

import assert from 'node:assert/strict';
import {randomBytes} from 'node:crypto';
import {describe, test} from 'node:test';

import {assertAccessible, call, nextStage, openPage, platePixels, plateStands, startBoth, startBrowser} from './harness.mjs';

const {program, browser} = await startBoth();

/** A sitting made through the API, opened in a page of its own whose answers are recorded as they leave. */
async function openSitting({exposureMs = 20_000, tell = 'dont_tell', prepare = async () => undefined, using = browser, ...options} = {}) {
  const practical = (await call(program, 'POST', '/api/practicals', {exposure_ms: exposureMs})).body;
  const begun = await call(program, 'POST', `/api/practicals/${practical.id}/sittings`, {consent: true, tell, sex_at_birth: null});
  assert.equal(begun.status, 201);
  const {sitting} = begun.body;
  const opened = await openPage(using, program.url, options);
  const sent = [];
  opened.page.on('request', (request) => {
    if (request.method() !== 'PUT') return;
    sent.push({id: request.url().split('/').at(-1), body: request.postDataJSON()});
  });
  await prepare(opened.page, opened.context);
  await opened.page.goto(`${program.url}/sitting/${sitting}`);
  return {...opened, sitting, sent, state: async () => (await call(program, 'GET', `/api/sittings/${sitting}`)).body};
}

async function begin(page) {
  await page.locator('.introduction .primary.large:enabled').click();
  await plateStands(page);
}

/** Answers every plate of the round that stands with "no figure for me". */
async function answerRoundWithNone(page) {
  await begin(page);
  while (await nextStage(page) === 'plate') {
    const label = await page.locator('main.stage').getAttribute('aria-label');
    await page.keyboard.press('n');
    await page.waitForFunction((before) => {
      const stage = document.querySelector('main.stage');
      return stage === null || stage.getAttribute('aria-label') !== before;
    }, label);
  }
}

/** Presses Tab until the focus is where it should be; the focus must be visible at every step. */
async function tabTo(page, what, matches) {
  for (let presses = 0; presses < 40; presses++) {
    const found = await page.evaluate((source) => {
      const at = document.activeElement;
      const style = getComputedStyle(at);
      return {
        here: new Function('at', `return ${source}`)(at),
        visible: at === document.body || at.tagName === 'H1' || at.tagName === 'MAIN' || (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2),
        html: at.outerHTML.slice(0, 80),
      };
    }, matches);
    assert.ok(found.visible, `the focus is visible on ${found.html}`);
    if (found.here) return;
    await page.keyboard.press('Tab');
  }
  assert.fail(`Tab never reached ${what}`);
}

describe('by keyboard alone, without what only secure addresses have', () => {
  test('from the start page to a plate, then stop and delete', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.addInitScript(() => {
      Object.defineProperty(crypto, 'subtle', {value: undefined});
      Object.defineProperty(Crypto.prototype, 'randomUUID', {value: undefined});
    });
    await page.goto(program.url);
    await page.getByRole('heading', {name: 'Start a practical'}).waitFor();
    await tabTo(page, 'the name', 'at.id === "practical-name"');
    await page.keyboard.type('keys only');
    await tabTo(page, 'the seconds', 'at.id === "practical-seconds"');
    await page.keyboard.press('Control+A');
    await page.keyboard.type('20');
    await page.keyboard.press('Enter');
    await page.getByText('Practical “keys only” is ready.').waitFor();
    await page.getByRole('link', {name: 'Sit it: keys only'}).waitFor();
    await page.evaluate(() => document.querySelector('h1').focus());
    await tabTo(page, 'Sit it', 'at.getAttribute("aria-label") === "Sit it: keys only"');
    await page.keyboard.press('Enter');
    await page.getByLabel('I have read this').waitFor();
    await tabTo(page, 'the choice', 'at.name === "tell"');
    await page.keyboard.press('Space');
    await page.keyboard.press('ArrowDown');
    await tabTo(page, 'the way to take part', 'at.name === "way"');
    await page.keyboard.press('Space');
    await tabTo(page, 'consent', 'at.id === "consent"');
    await page.keyboard.press('Space');
    await tabTo(page, 'Begin', 'at.type === "submit"');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/sitting\//);
    const sitting = page.url().split('/').at(-1);
    await page.waitForFunction(() => document.activeElement?.textContent === 'Begin');
    await page.keyboard.press('Enter');
    await plateStands(page);
    const state = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
    assert.equal(state.tell, 'dont_tell');
    await tabTo(page, 'a symbol', 'at.classList.contains("symbol")');
    await tabTo(page, 'Stop', 'at.textContent === "Stop"');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', {name: 'Stop here?'}).waitFor();
    await assertAccessible(page, 'stop');
    await tabTo(page, 'deleting', 'at.textContent.startsWith("Delete")');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', {name: 'Deleted'}).waitFor();
    assert.equal((await call(program, 'GET', `/api/sittings/${sitting}`)).status, 404);
    assert.deepEqual(await page.evaluate(() => Object.keys(localStorage)), []);
    quiet();
    await context.close();
  });
});

describe('what is shown', () => {
  // The scale is the browser's own, as on a real screen: emulated by the test protocol, it snaps elsewhere.
  for (const [name, width, height, scale] of [
    ['an ordinary screen', 1366, 768, 1], ['an odd width', 1367, 901, 1], ['a narrow, tall window', 701, 1001, 1],
    ['a fine screen', 1281, 901, 2], ['a screen at five quarters', 1281, 801, 1.25], ['a screen at three halves', 1280, 801, 1.5],
  ]) {
    test(`on ${name} every pixel of the plate is the code that was sent`, async () => {
      const scaled = await startBrowser(`--force-device-scale-factor=${scale}`, `--window-size=${width},${height}`);
      const {page, quiet, state, sitting} = await openSitting({using: scaled, viewport: scale === 1 ? {width, height} : null});
      assert.equal(await page.evaluate(() => devicePixelRatio), scale);
      const [item] = (await state()).round.items;
      const sent = Buffer.from(await (await fetch(`${program.url}/api/sittings/${sitting}/plates/${item.plate}`)).arrayBuffer());
      await begin(page);
      assert.ok(sent.equals(await platePixels(page)), 'the canvas holds the codes');
      const screen = await onScreen(page, scale);
      assert.equal(screen.length, sent.length, 'one canvas pixel is one pixel of the display');
      const differing = sent.reduce((count, code, at) => count + (code === screen[at] ? 0 : 1), 0);
      assert.equal(differing, 0, `${differing} of ${sent.length} codes differ on the screen`);
      const whole = await page.evaluate(() => {
        const {left, top, right, bottom} = document.querySelector('canvas.plate').getBoundingClientRect();
        return left >= 0 && top >= 0 && right <= innerWidth && bottom <= innerHeight;
      });
      assert.ok(whole, 'the plate is shown whole');
      quiet();
      await scaled.close();
    });
  }

  /** What the screen shows where the plate stands, as R, G, B bytes. */
  async function onScreen(page, scale) {
    const box = await page.locator('canvas.plate').evaluate((canvas) => {
      const {left, top, width, height} = canvas.getBoundingClientRect();
      return {left, top, width, height};
    });
    const png = await page.screenshot({scale: 'device'});
    const reader = await page.context().browser().newPage();
    const base64 = await reader.evaluate(async ({png, box, scale}) => {
      const bytes = Uint8Array.from(atob(png), (letter) => letter.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], {type: 'image/png'}), {colorSpaceConversion: 'none'});
      const [x, y, width, height] = [box.left, box.top, box.width, box.height].map((length) => Math.round(length * scale));
      const canvas = new OffscreenCanvas(width, height);
      const context = canvas.getContext('2d');
      context.drawImage(bitmap, -x, -y);
      let text = '';
      const {data} = context.getImageData(0, 0, width, height);
      for (let at = 0; at < data.length; at += 4) text += String.fromCharCode(data[at], data[at + 1], data[at + 2]);
      return btoa(text);
    }, {png: png.toString('base64'), box, scale});
    await reader.close();
    return Buffer.from(base64, 'base64');
  }

  test('the time border shrinks, can be hidden, and steps where less motion is asked for', async () => {
    const {page, context, quiet} = await openSitting({reducedMotion: 'no-preference'});
    await begin(page);
    const left = () => page.locator('.time-left').getAttribute('stroke-dasharray').then((dash) => parseFloat(dash));
    const before = await left();
    await page.waitForTimeout(600);
    const after = await left();
    assert.ok(after < before && after > 80, `from ${before} to ${after}`);
    await page.keyboard.press('t');
    await page.waitForFunction(() => document.querySelector('.time-border') === null);
    await page.getByRole('button', {name: /Hide the time/}).click();
    await page.locator('.time-border').waitFor();
    quiet();
    await context.close();
    const calm = await openSitting({reducedMotion: 'reduce'});
    await begin(calm.page);
    await calm.page.waitForTimeout(400);
    assert.equal(await calm.page.locator('.time-left').getAttribute('stroke-dasharray'), '100 100');
    await calm.context.close();
  });

  test('a window too small for a whole plate is said before anything begins', async () => {
    const {page, context} = await openSitting({viewport: {width: 900, height: 500}});
    await page.getByText('This window is too small to show a whole plate.').waitFor();
    await assertAccessible(page, 'introduction in a small window');
    await context.close();
  });
});

describe('time', () => {
  test('the plate blanks at its limit; an answer after that is late, with its own times', async () => {
    const {page, context, quiet, sent, state} = await openSitting({exposureMs: 1000});
    await begin(page);
    assert.ok(new Set(await platePixels(page)).size > 20, 'a plate stands');
    await page.waitForFunction(() => {
      const canvas = document.querySelector('canvas.plate');
      return new Set(canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data).size <= 2;
    }, null, {polling: 50, timeout: 5000});
    await page.keyboard.press('n');
    await page.getByText('1 answer saved').waitFor();
    const [{body}] = sent;
    assert.equal(body.end, 'late');
    assert.deepEqual(body.symbols, []);
    assert.ok(body.shown_ms >= 1000 && body.shown_ms < 1500, `shown for ${body.shown_ms} ms`);
    assert.ok(body.response_ms - body.onset_ms > body.shown_ms, 'the response came after blanking');
    assert.ok(body.frames > 10 && body.frames < 100, `${body.frames} frames`);
    assert.equal((await state()).answered, 1);
    quiet();
    await context.close();
  });

  test('without an answer the time runs out', {timeout: 60_000}, async () => {
    const {page, context, sent} = await openSitting({exposureMs: 1000});
    await begin(page);
    await page.getByText('1 answer saved').waitFor({timeout: 30_000});
    assert.equal(sent[0].body.end, 'expired');
    assert.equal(sent[0].body.response_ms, null);
    await context.close();
  });

  test('a window hidden while the plate stood is said in the answer', async () => {
    const {page, context, sent} = await openSitting();
    await begin(page);
    await page.evaluate(() => {
      Object.defineProperty(document, 'visibilityState', {configurable: true, get: () => 'hidden'});
      document.dispatchEvent(new Event('visibilitychange'));
    });
    await page.keyboard.press('n');
    await page.getByText('1 answer saved').waitFor();
    assert.equal(sent[0].body.hidden, true);
    await context.close();
  });

  test('where two may be chosen, two are taken and a third is not', {timeout: 120_000}, async () => {
    const {page, context, quiet, sent, state} = await openSitting();
    await answerRoundWithNone(page);
    await answerRoundWithNone(page);
    assert.equal((await state()).round.figures, 2);
    const [first, second, third] = (await state()).symbols;
    await begin(page);
    await page.keyboard.press(second);
    await page.locator('button.symbol').first().click();
    await page.keyboard.press(third);
    const pressed = await page.locator('button.symbol[aria-pressed="true"] .figure').allTextContents();
    assert.deepEqual(pressed, [first, second]);
    const before = sent.length;
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('main.stage')?.getAttribute('aria-label')?.startsWith('Plate 2'));
    assert.deepEqual(sent.slice(before).map(({body}) => body.symbols), [[first, second]]);
    quiet();
    await context.close();
  });
});

describe('nothing is lost and nothing doubles', () => {
  test('a lost request, a busy program and a lost reply: the same answer is sent until it is saved, once', {timeout: 60_000}, async () => {
    const faults = ['lost request', 'busy', 'lost reply'];
    const {page, context, sent, state} = await openSitting({prepare: async (page) => {
      await page.route('**/answers/*', async (route) => {
        const fault = faults.shift();
        if (fault === 'lost request') return route.abort();
        if (fault === 'busy') {
          return route.fulfill({status: 503, headers: {'Retry-After': '1'}, contentType: 'application/json', body: JSON.stringify({error: {
            code: 'unavailable', thing: 'store', place: '/', message: 'The disk is full.', remedy: 'Make room.',
          }})});
        }
        if (fault === 'lost reply') {
          await route.fetch();
          return route.abort();
        }
        return route.continue();
      });
    }});
    await begin(page);
    await page.keyboard.press('n');
    await page.getByText('0 answers saved · 1 waiting').waitFor();
    assert.equal((await state()).answered, 0, 'not saved, and not said to be');
    await page.getByText('1 answer saved').waitFor({timeout: 30_000});
    assert.equal(sent.length, 4);
    assert.equal(new Set(sent.map(({id}) => id)).size, 1, 'one id');
    assert.equal(new Set(sent.map(({body}) => JSON.stringify(body))).size, 1, 'one body');
    assert.equal((await state()).answered, 1);
    await context.close();
  });

  test('a round is not left before all is saved; a reload in between loses nothing', {timeout: 60_000}, async () => {
    let cut = true;
    const {page, context, sent, state} = await openSitting({prepare: async (page) => {
      await page.route('**/answers/*', (route) => (cut ? route.abort() : route.continue()));
    }});
    await begin(page);
    await page.keyboard.press('n');
    await page.getByRole('heading', {name: 'Saving your answers'}).waitFor();
    await page.getByText('1 waiting, trying again').waitFor();
    await page.getByText('The program on this computer was not reached.').waitFor();
    await assertAccessible(page, 'saving without a connection');
    await page.reload();
    await page.getByText('0 answers saved · 1 waiting').waitFor();
    assert.equal((await state()).answered, 0);
    cut = false;
    await page.getByRole('heading', {name: 'First round'}).waitFor({timeout: 30_000});
    assert.equal((await state()).answered, 1);
    assert.equal(new Set(sent.map(({id}) => id)).size, 1, 'the reload sent the same answer');
    await context.close();
  });

  test('a plate that stood while the page was reloaded is recorded as interrupted, and not shown again', async () => {
    const {page, context, sent, state} = await openSitting();
    await begin(page);
    await page.waitForTimeout(300);
    await page.reload();
    await page.getByRole('heading', {name: 'First round'}).waitFor();
    assert.equal(sent.length, 1);
    const {body} = sent[0];
    assert.deepEqual([body.end, body.symbols, body.response_ms], ['interrupted', [], null]);
    assert.ok(body.shown_ms > 100, `shown for ${body.shown_ms} ms before the reload`);
    assert.equal((await state()).answered, 1);
    await begin(page);
    await page.keyboard.press('n');
    await page.getByText('2 answers saved').waitFor();
    assert.notEqual(sent[1].body.page_load, body.page_load, 'each page load has its own clock');
    await context.close();
  });

  test('an answer that is not taken is said plainly, and the sitting goes on', async () => {
    const {page, context, sitting, state} = await openSitting();
    await begin(page);
    const [{item}] = (await state()).round.items;
    const hex = () => randomBytes(16).toString('hex');
    const other = await call(program, 'PUT', `/api/sittings/${sitting}/answers/${hex()}`, {
      item, symbols: [], end: 'answered', onset_ms: 1, response_ms: 2, shown_ms: 1, frames: 1, hidden: false, page_load: hex(),
    });
    assert.equal(other.status, 200, 'another window was first');
    await page.keyboard.press('n');
    await page.getByRole('heading', {name: 'First round'}).waitFor();
    await page.getByText('1 answer was not taken.').waitFor();
    await page.getByText('1 answer saved · 1 not taken').waitFor();
    await assertAccessible(page, 'introduction with a refused answer');
    await context.close();
  });

  test('without storage the page works, and says that it must stay open', {timeout: 60_000}, async () => {
    let cut = true;
    const {page, context, state} = await openSitting({prepare: async (page) => {
      await page.addInitScript(() => Object.defineProperty(window, 'localStorage', {get: () => { throw new Error('denied'); }}));
      await page.route('**/answers/*', (route) => (cut ? route.abort() : route.continue()));
    }});
    await begin(page);
    await page.keyboard.press('n');
    await page.getByText('Keep this page open:').waitFor();
    cut = false;
    await page.getByRole('button', {name: 'Try again'}).click();
    await page.getByRole('heading', {name: 'First round'}).waitFor();
    assert.equal((await state()).answered, 1);
    await context.close();
  });

  test('stopping in front of a plate interrupts that plate alone, and going on goes on', async () => {
    const {page, context, sent, state} = await openSitting();
    await answerRoundWithNone(page);
    await begin(page);
    await page.getByRole('button', {name: 'Stop'}).click();
    await page.getByRole('heading', {name: 'Stop here?'}).waitFor();
    await page.getByText('2 answers saved').waitFor();
    assert.equal(sent.at(-1).body.end, 'interrupted');
    await page.getByRole('button', {name: 'Go on'}).click();
    await page.getByText('going on where it stopped').waitFor();
    const {round} = await state();
    assert.equal(round.items.filter((item) => !item.answered).length, round.items.length - 1);
    await context.close();
  });

  test('plates that cannot be fetched hold back Begin and can be asked for again', async () => {
    let cut = true;
    const {page, context} = await openSitting({prepare: async (page) => {
      await page.route('**/plates/*', (route) => (cut ? route.abort() : route.continue()));
    }});
    await page.getByText('The program on this computer was not reached.').waitFor();
    assert.ok(await page.getByRole('button', {name: 'Begin'}).isDisabled());
    cut = false;
    await page.getByRole('button', {name: 'Try again'}).click();
    await begin(page);
    await context.close();
  });

  test('an address that leads to no sitting says so', async () => {
    const {page, context} = await openPage(browser, program.url);
    await page.goto(`${program.url}/sitting/${'0'.repeat(32)}`);
    await page.getByRole('alert').waitFor();
    await assertAccessible(page, 'no such sitting');
    await page.getByRole('link', {name: 'To the start page'}).click();
    await page.getByRole('heading', {name: 'A practical on colour vision'}).waitFor();
    await context.close();
  });
});
