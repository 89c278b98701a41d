// The page of an eye by its cone curves: dragging and keys, what follows, how fast, the address, and paper.
//
//   COPUNCTAL_PROGRAM   the program, or test/browser/mock_server.mjs (default build/release/copunctal)
//   COPUNCTAL_SHOTS     a directory for pictures of the page, for looking at

import assert from 'node:assert/strict';
import {createHash} from 'node:crypto';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, shot, startBoth} from './harness.mjs';

const {program, browser} = await startBoth();

async function openEyes(search = '', options = {}) {
  const opened = await openPage(browser, program.url, {viewport: {width: 1280, height: 800}, ...options});
  const asked = [];
  opened.page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.pathname.startsWith('/api/eye')) asked.push(url);
  });
  await opened.page.goto(`${program.url}/eyes${search}`);
  await opened.page.locator('svg.curves').waitFor();
  return {...opened, asked, eyes: () => asked.filter((url) => url.pathname === '/api/eye').map((url) => url.searchParams.get('observer'))};
}

const curve = (page, cone) => page.locator(`.curve[data-cone="${cone}"]`);
const line = (page, cone) => curve(page, cone).locator('.line').getAttribute('d');

/** The middle of a curve's handle. */
async function handle(page, cone) {
  const box = await curve(page, cone).locator('.mark').boundingBox();
  return {x: box.x + box.width / 2, y: box.y + box.height / 2};
}

async function drag(page, cone, dx, dy, steps = 12) {
  const {x, y} = await handle(page, cone);
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + dx, y + dy, {steps});
  await page.mouse.up();
}

async function valueOf(page, cone) {
  return Number(await curve(page, cone).getAttribute('aria-valuenow'));
}

/** Waits until what is drawn is what the sliders ask for. */
async function settled(page, observer) {
  await page.waitForFunction((wanted) => decodeURIComponent(location.search).includes(`observer=${wanted}`), observer);
  await page.waitForLoadState('networkidle');
}

/** What the page says it did a second during a drag of two seconds. */
async function rateOfDrag(page) {
  const {x, y} = await handle(page, 'l');
  await page.mouse.move(x, y);
  await page.mouse.down();
  // A real mouse reports up to a thousand moves a second; the test's own channel to the browser is slower than that.
  await curve(page, 'l').evaluate((element, [startX, startY]) => new Promise((done) => {
    const began = performance.now();
    const timer = setInterval(() => {
      const at = performance.now() - began;
      const clientX = startX - 25 + 22 * Math.sin(at / 150);
      element.dispatchEvent(new PointerEvent('pointermove', {bubbles: true, pointerId: 1, pointerType: 'mouse', clientX, clientY: startY}));
      if (at < 2000) return;
      clearInterval(timer);
      done();
    }, 4);
  }), [x, y]);
  await page.mouse.up();
  return Number(await page.locator('main').getAttribute('data-updates-per-second'));
}

const hashOf = (bytes) => createHash('sha256').update(Buffer.from(bytes)).digest('hex');
const shownHash = (page, at) => page.locator('.pair canvas').nth(at).evaluate(async (canvas) => {
  const {data} = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  const digest = await crypto.subtle.digest('SHA-256', data.filter((_, index) => index % 4 !== 3));
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
});
async function servedHash(query) {
  return hashOf(await (await fetch(`${program.url}/api/eye/picture?${query}`)).arrayBuffer());
}

describe('choosing on the curves', () => {
  test('the start page leads here', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(program.url);
    await page.getByRole('link', {name: /eye by its cone curves/}).click();
    await page.getByRole('heading', {name: 'An eye, by its cone curves'}).waitFor();
    quiet();
    await context.close();
  });

  test('L dragged towards M is a protan, and curve, words and picture follow', async () => {
    const {page, context, quiet} = await openEyes();
    await page.waitForLoadState('networkidle');
    const before = {l: await line(page, 'l'), m: await line(page, 'm'), seen: await shownHash(page, 1)};
    await drag(page, 'l', -30, 0);
    const separation = await valueOf(page, 'l');
    assert.ok(separation > 0 && separation < 28, `${separation} nm`);
    await settled(page, `protan:${separation}`);
    assert.notEqual(await line(page, 'l'), before.l, 'the L curve moved');
    assert.equal(await line(page, 'm'), before.m, 'the M curve did not');
    assert.notEqual(await shownHash(page, 1), before.seen);
    assert.equal(await shownHash(page, 1), await servedHash(`observer=protan:${separation}&picture=pebbles`), 'the picture is the program’s, byte for byte');
    assert.equal(await shownHash(page, 0), await servedHash('observer=original&picture=pebbles'));
    await page.getByText(`A protan, residual separation ${separation} nm of 28`).waitFor();
    assert.equal(await curve(page, 'l').getAttribute('aria-valuetext'), `residual separation ${separation} nm of 28`);
    await assertAccessible(page, 'eye, protan');
    quiet();
    await context.close();
  });

  test('the whole way is 0 nm, and no further; the other way stays at 28', async () => {
    const {page, context} = await openEyes();
    await drag(page, 'm', 400, 0);
    assert.equal(await valueOf(page, 'm'), 0);
    await settled(page, 'deutan:0');
    await page.getByText(/Error: mean \d/).waitFor();
    await drag(page, 'm', -500, 0);
    assert.equal(await valueOf(page, 'm'), 28);
    await page.getByText('A normal observer.', {exact: true}).waitFor();
    await context.close();
  });

  test('S is pulled down; taking another curve puts it back', async () => {
    const {page, context, quiet} = await openEyes();
    await drag(page, 's', 0, 60);
    const density = await valueOf(page, 's');
    assert.ok(density > 0 && density < 1, `density ${density}`);
    await settled(page, `tritan,s-density=${density}`);
    await drag(page, 's', 0, 400);
    await settled(page, 'tritan');
    assert.equal(await valueOf(page, 's'), 0);
    await drag(page, 'l', -25, 0);
    assert.equal(await valueOf(page, 's'), 1, 'S is back');
    assert.ok(await valueOf(page, 'l') < 28);
    quiet();
    await context.close();
  });

  test('by keyboard: one and five nm, both ends, and the focus can be seen', async () => {
    const {page, context, quiet} = await openEyes();
    await curve(page, 'l').focus();
    const press = async (key) => {
      await page.keyboard.press(key);
      return valueOf(page, 'l');
    };
    assert.deepEqual([await press('ArrowLeft'), await press('PageDown'), await press('ArrowRight'), await press('Home'), await press('PageUp'), await press('End')], [27, 22, 23, 0, 5, 28]);
    await page.keyboard.press('Home');
    await settled(page, 'protan:0');
    assert.notEqual(await curve(page, 'l').locator('.halo').evaluate((ring) => getComputedStyle(ring).stroke), 'rgba(0, 0, 0, 0)');
    await page.keyboard.press('Tab');
    assert.equal(await page.evaluate(() => document.activeElement.getAttribute('data-cone')), 'm');
    await page.keyboard.press('ArrowRight');
    assert.deepEqual([await valueOf(page, 'm'), await valueOf(page, 'l')], [27, 28], 'the first curve went back');
    quiet();
    await context.close();
  });

  test('age, field and densities count, and an emptied field is not said', async () => {
    const {page, context, asked} = await openEyes();
    await page.getByRole('spinbutton', {name: 'Age'}).fill('61');
    await page.getByRole('spinbutton', {name: 'Density M'}).fill('0.35');
    await settled(page, 'normal,age=61,density-m=0.35');
    await page.getByRole('spinbutton', {name: 'Age'}).fill('');
    await settled(page, 'normal,density-m=0.35');
    await page.getByRole('spinbutton', {name: 'Field'}).fill('40');
    await page.getByText('must be 1 to 10').waitFor();
    assert.equal(await page.getByRole('spinbutton', {name: 'Field'}).getAttribute('aria-invalid'), 'true');
    assert.ok(!asked.some((url) => url.search.includes('field')), 'a number out of range is not asked for');
    await context.close();
  });
});

describe('following', () => {
  test('while an answer is under way the newest state waits, alone', async () => {
    const {page, context, eyes} = await openEyes();
    await page.waitForLoadState('networkidle');
    let open = 0, most = 0;
    await page.route('**/api/eye?*', async (route) => {
      most = Math.max(most, ++open);
      await new Promise((done) => setTimeout(done, 120));
      open--;
      await route.continue();
    });
    const before = eyes().length;
    await drag(page, 'l', -40, 0, 40);
    const last = `protan:${await valueOf(page, 'l')}`;
    await settled(page, last);
    await page.waitForTimeout(400);
    const during = eyes().slice(before);
    assert.equal(most, 1, 'one question at a time');
    assert.ok(during.length < 20, `${during.length} questions for 40 moves`);
    assert.equal(during.at(-1), last, 'the last state was asked for');
    await context.close();
  });

  test('the rate of updates during a drag is measured', async (t) => {
    const {page, context} = await openEyes();
    await page.waitForLoadState('networkidle');
    const rates = [];
    while (rates.length < 3) rates.push(await rateOfDrag(page));
    // How fast depends on what else the machine does, so it is told and not judged.
    t.diagnostic(`${rates.join(', ')} updates a second`);
    assert.ok(rates.every((rate) => rate > 0));
    await context.close();
  });

  test('the strip is not fetched during a drag, and then each of its pictures once', async () => {
    const {page, context, asked} = await openEyes();
    const pictures = () => asked.filter((url) => url.pathname.endsWith('/picture')).map((url) => url.searchParams.get('observer'));
    await page.locator('.separation-pictures canvas').nth(9).waitFor();
    for (const observer of ['protan:20', 'protan:0', 'deutan:10']) assert.equal(pictures().filter((one) => one === observer).length, 1, observer);
    const {x, y} = await handle(page, 's');
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x, y + 20, {steps: 4});
    await page.getByRole('spinbutton', {name: 'Age'}).fill('60');
    await page.waitForTimeout(1200);
    assert.ok(pictures().some((one) => one.endsWith('age=60')), 'the page itself follows');
    assert.ok(!pictures().includes('deutan:10,age=60'), 'the strip waits');
    await page.mouse.up();
    await page.waitForRequest((request) => request.url().includes(encodeURIComponent('deutan:0,age=60')));
    await context.close();
  });
});

describe('the diagram', () => {
  test('a picked point moves the lines, in every diagram, and the address says CIE 1931', async () => {
    const {page, context, quiet} = await openEyes('?observer=deutan:5');
    const lines = () => page.locator('.diagram .drawn .confusion').evaluateAll((paths) => paths.map((path) => path.getAttribute('d')));
    for (const name of ['x, y', 'u′, v′', 'MacLeod–Boynton']) {
      await page.getByRole('radio', {name}).check({force: true});
      await page.waitForLoadState('networkidle');
      const before = await lines();
      const box = await page.locator('.picked .ring').boundingBox();
      await page.mouse.click(box.x + box.width / 2 + 14, box.y + box.height / 2 - 9);
      await page.waitForFunction((old) => JSON.stringify(Array.from(document.querySelectorAll('.diagram .drawn .confusion'), (path) => path.getAttribute('d'))) !== old, JSON.stringify(before));
      const after = await page.locator('.picked .ring').boundingBox();
      assert.ok(Math.abs(after.x - box.x - 14) < 1.5 && Math.abs(after.y - box.y + 9) < 1.5, `${name}: the ring is where the click was`);
      await assertAccessible(page, `eye, ${name}`);
    }
    await page.waitForFunction(() => /at=0\.\d+,0\.\d+/.test(location.search));
    quiet();
    await context.close();
  });

  test('arrow keys move the point, and the own line is told from the others without hue', async () => {
    const {page, context} = await openEyes('?observer=protan:0');
    const before = await page.locator('.picked').getAttribute('aria-valuetext');
    await page.locator('.picked').focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowUp');
    await page.waitForFunction(() => location.search.includes('at='));
    assert.notEqual(await page.locator('.picked').getAttribute('aria-valuetext'), before);
    const widths = await page.locator('.diagram .drawn .confusion').evaluateAll((paths) => paths.map((path) => [path.classList.contains('own'), parseFloat(getComputedStyle(path).strokeWidth)]));
    assert.deepEqual(widths.filter(([own]) => own).length, 1);
    for (const [own, width] of widths) assert.equal(width > 2, own);
    const dashes = await page.locator('.curve .line').evaluateAll((paths) => paths.map((path) => path.getAttribute('stroke-dasharray')));
    assert.equal(new Set(dashes).size, 3, 'three dash patterns');
    await context.close();
  });

  test('everything the page itself draws is grey', async () => {
    const {page, context} = await openEyes('?observer=protan:3');
    await page.waitForLoadState('networkidle');
    const tinted = await page.evaluate(() => Array.from(document.querySelectorAll('main *')).flatMap((element) => {
      const style = getComputedStyle(element);
      return ['color', 'backgroundColor', 'fill', 'stroke', 'borderTopColor'].flatMap((property) => {
        const [r, g, b] = (style[property].match(/\d+/g) ?? []).map(Number);
        return r === undefined || (r === g && g === b) ? [] : [`${element.tagName} ${property} ${style[property]}`];
      });
    }));
    assert.deepEqual(tinted, []);
    await context.close();
  });
});

describe('address, words and trouble', () => {
  test('a linked state opens as it was, and its commands ask the same', async () => {
    const {page, context, asked, quiet} = await openEyes('?observer=deutan:12,age=45&display=srgb/wled&at=0.3,0.31');
    assert.equal(await valueOf(page, 'm'), 12);
    assert.equal(await page.getByRole('spinbutton', {name: 'Age'}).inputValue(), '45');
    assert.equal(await page.getByRole('combobox', {name: 'Display'}).inputValue(), 'srgb/wled');
    const [first] = asked;
    assert.deepEqual(Object.fromEntries(first.searchParams), {observer: 'deutan:12,age=45', display: 'srgb/wled', at: '0.3,0.31'});
    const commands = await page.locator('.copy-line code').allTextContents();
    assert.match(commands[0], /^copunctal observer describe --kind deutan --separation 12 --age 45 --display srgb\/wled$/);
    assert.match(commands[1], /--as deutan:12,age=45 --display srgb\/wled$/);
    quiet();
    await context.close();
  });

  test('the words are the program’s', async () => {
    const {page, context} = await openEyes('?observer=protan:0');
    const {body} = await call(program, 'GET', '/api/eye?observer=protan:0');
    const words = await page.locator('main').innerText();
    for (const said of [body.rayleigh.words, body.display_words, ...body.notes, body.intended_use.slice(1)]) {
      assert.ok(words.toLowerCase().includes(said.replace(/\.$/, '').toLowerCase()), said);
    }
    assert.match(words, /cannot be given/);
    assert.match(words, new RegExp(`${body.neutral_nm.display_white.toFixed(1)} nm looks like this display’s white`));
    assert.match(words, new RegExp(`\\b${body.display_status}\\b`));
    assert.doesNotMatch(words.replaceAll(/not for diagnosis, screening/gi, ''), /\b(screening|passed|failed|pass|fail)\b/i);
    await context.close();
  });

  test('an observer that cannot be, and one that cannot be read', async () => {
    const {page, context} = await openPage(browser, program.url);
    await page.goto(`${program.url}/eyes?observer=protan:60`);
    await page.getByRole('alert').waitFor();
    const {body: {error}} = await call(program, 'GET', '/api/eye?observer=protan:60');
    assert.ok((await page.getByRole('alert').innerText()).toLowerCase().includes(error.remedy.toLowerCase()), 'the remedy is the program’s, as a sentence');
    await assertAccessible(page, 'eye, refused');
    await page.getByRole('button', {name: 'Back to a normal observer'}).click();
    await page.locator('svg.curves').waitFor();
    assert.equal(await page.getByRole('alert').count(), 0);
    await page.goto(`${program.url}/eyes?observer=somebody`);
    await page.getByText('observer “somebody”, which cannot be read').waitFor();
    await context.close();
  });

  test('when the program is not reached, what was drawn stays and it is said', async () => {
    const {page, context} = await openEyes();
    await page.waitForLoadState('networkidle');
    await page.route('**/api/eye*', (route) => route.abort());
    await curve(page, 'l').focus();
    await page.keyboard.press('PageDown');
    await page.getByText('The program on this computer was not reached.').waitFor();
    assert.equal(await page.locator('svg.curves').count(), 1);
    await page.unroute('**/api/eye*');
    await page.getByRole('button', {name: 'Try again'}).click();
    await page.waitForFunction(() => document.querySelector('[role="alert"]') === null);
    await context.close();
  });

  for (const [width, height] of [[1280, 800], [390, 844]]) {
    test(`${width} × ${height}: nothing scrolls sideways`, async () => {
      const {page, context} = await openEyes('?observer=protan:6', {viewport: {width, height}});
      await page.locator('.separation-pictures canvas').nth(9).waitFor();
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
      await assertAccessible(page, `eye at ${width}`);
      await shot(page, `eyes-${width}`);
      await context.close();
    });
  }

  test('on paper: curves, diagram and words, without what only a screen can do', async () => {
    const {page, context} = await openEyes('?observer=protan:6');
    await page.emulateMedia({media: 'print'});
    for (const selector of ['svg.curves', 'svg.diagram', 'svg.rayleigh', '.observer-words']) assert.ok(await page.locator(selector).isVisible(), selector);
    assert.equal(await page.locator('button:visible').count(), 0);
    await shot(page, 'eyes-print');
    await context.close();
  });
});
