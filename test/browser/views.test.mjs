// The page of views: a picture of one's own through other eyes, audited; what looks the same; figures to keep.
//
//   COPUNCTAL_PROGRAM   the program (the mock server takes no pictures)
//   COPUNCTAL_SHOTS     a directory for pictures of the page, for looking at

import assert from 'node:assert/strict';
import {execFileSync} from 'node:child_process';
import {mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {after, describe, test} from 'node:test';
import {deflateSync, crc32 as nodeCrc} from 'node:zlib';

import {assertAccessible, openPage, pixelsOf, PROGRAM, startBoth} from './harness.mjs';

const MOCKED = (process.env.COPUNCTAL_PROGRAM ?? '').endsWith('.mjs');

function crc32(bytes) {
  if (nodeCrc) return nodeCrc(bytes);
  let crc = ~0;
  for (const byte of bytes) {
    crc ^= byte;
    for (let k = 0; k < 8; ++k) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

/** A PNG of smooth colours, written by hand (PNG, ISO/IEC 15948). */
function png(width, height) {
  const rows = Buffer.alloc(height * (1 + 3 * width));
  for (let y = 0; y < height; ++y)
    for (let x = 0; x < width; ++x)
      for (let c = 0; c < 3; ++c) rows[y * (1 + 3 * width) + 1 + 3 * x + c] = Math.round(128 + 110 * Math.sin(0.011 * x * (1 + c / 3) + 0.017 * y + 2 * c));
  const chunk = (type, data) => {
    const body = Buffer.concat([Buffer.from(type), data]), length = Buffer.alloc(4), crc = Buffer.alloc(4);
    length.writeUInt32BE(data.length);
    crc.writeUInt32BE(crc32(body));
    return Buffer.concat([length, body, crc]);
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([8, 2, 0, 0, 0], 8);
  return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), chunk('IHDR', head), chunk('IDAT', deflateSync(rows)), chunk('IEND', Buffer.alloc(0))]);
}

describe('the page of views', {skip: MOCKED}, async () => {
  if (MOCKED) return;
  const {program, browser} = await startBoth();
  const scratch = mkdtempSync(join(tmpdir(), 'copunctal-views-'));
  after(() => rmSync(scratch, {recursive: true}));
  const original = join(scratch, 'original.png'), large = join(scratch, 'large.png');
  writeFileSync(original, png(480, 320));
  writeFileSync(large, png(1200, 860));

  async function open(options = {}) {
    const opened = await openPage(browser, program.url, {viewport: {width: 1280, height: 900}, ...options});
    await opened.page.goto(`${program.url}/views`);
    await opened.page.getByRole('heading', {name: /^Views/}).waitFor();
    return opened;
  }
  async function look(page, file) {
    await page.getByLabel(/^Picture: drop/).setInputFiles(file);
    await page.waitForFunction(() => Number(document.querySelector('[data-updates]')?.getAttribute('data-updates')) > 0, null, {timeout: 30_000});
  }
  async function shot(page, name) {
    if (!process.env.COPUNCTAL_SHOTS) return;
    mkdirSync(process.env.COPUNCTAL_SHOTS, {recursive: true});
    await page.screenshot({path: join(process.env.COPUNCTAL_SHOTS, `${name}.png`), fullPage: true});
  }
  const viewCodes = (page) => pixelsOf(page.locator('canvas.over-it'));
  const bytesOf = async (page, path) => Buffer.from(await page.evaluate(async (address) => {
    let text = '';
    for (const byte of new Uint8Array(await (await fetch(address)).arrayBuffer())) text += String.fromCharCode(byte);
    return btoa(text);
  }, path), 'base64');

  test('what the page draws is what the program draws, within a code', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    const taken = page.waitForResponse((response) => response.url().includes('/api/pictures?') && response.request().method() === 'POST');
    await look(page, original);
    const {picture} = await (await taken).json();
    const ours = await viewCodes(page), theirs = await bytesOf(page, `/api/pictures/${picture}/view?as=deutan:0`);
    const before = await bytesOf(page, `/api/pictures/${picture}/preview`);
    assert.equal(ours.length, theirs.length);
    assert.ok(ours.every((code, i) => Math.abs(code - theirs[i]) <= 1), 'at most a code apart');
    assert.ok(ours.some((code, i) => Math.abs(code - before[i]) > 20), 'and not the original');
    // And what the command line writes.
    const out = join(scratch, 'view.png');
    execFileSync(PROGRAM, ['view', original, '-o', out, '--as', 'deutan:0', '--force'], {stdio: 'ignore'});
    await page.getByText(/Error \d\.\d\d on average/).waitFor({timeout: 30_000});
    await page.getByLabel(/^Other view: drop/).setInputFiles(out);
    await page.getByRole('row', {name: /^the other/}).waitFor({timeout: 30_000});
    const rows = await page.locator('table', {hasText: 'the other'}).locator('tbody td').allInnerTexts();
    assert.ok(Math.abs(Number(rows[0]) - Number(rows[3])) <= 0.02, `the same view, ours and written: ${rows}`);
    // A picture that is no view of it is found out.
    await page.getByLabel(/^Other view: drop/).setInputFiles(original);
    await assertAccessible(page, 'views');
    await shot(page, 'views-1280');
    quiet();
    await context.close();
  });

  test('the picture follows the eye, and tritan views come from the program', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, large);
    const curve = page.locator('.curve[data-cone="m"]'), updates = () => page.locator('[data-updates]').getAttribute('data-updates').then(Number);
    const before = await viewCodes(page);
    await curve.focus();
    for (let n = 0; n < 6; ++n) await page.keyboard.press('ArrowLeft');
    await page.waitForFunction(() => Number(document.querySelector('[data-updates]').getAttribute('data-updates')) > 1);
    await page.waitForTimeout(300);
    const after = await viewCodes(page);
    assert.equal(after.length, before.length);
    assert.ok(after.some((code, i) => code !== before[i]), 'another eye, another picture');
    // How often it follows a drag, for the notes: never a pass or a fail.
    const box = await curve.locator('.mark').boundingBox(), x = box.x + box.width / 2, y = box.y + box.height / 2;
    await page.mouse.move(x, y);
    await page.mouse.down();
    const from = await updates();
    await curve.evaluate((element, [startX, startY]) => new Promise((done) => {
      const began = performance.now();
      const timer = setInterval(() => {
        const at = performance.now() - began;
        element.dispatchEvent(new PointerEvent('pointermove', {bubbles: true, pointerId: 1, pointerType: 'mouse', clientX: startX - 25 + 22 * Math.sin(at / 150), clientY: startY}));
        if (at < 2000) return;
        clearInterval(timer);
        done();
      }, 4);
    }), [x, y]);
    console.log(`# one megapixel followed a drag ${((await updates() - from) / 2).toFixed(1)} times a second`);
    await page.mouse.up();
    // A tritan's colours are fitted one by one, by the program.
    await page.locator('.curve[data-cone="s"]').focus();
    await page.keyboard.press('End');
    await page.keyboard.press('Home');
    await page.waitForTimeout(1500);
    assert.ok((await viewCodes(page)).length === before.length);
    quiet();
    await context.close();
  });

  test('colours that look the same are hatched, and two are told apart for everybody', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, original);
    await page.getByLabel('Across, %').fill('30');
    await page.getByLabel('Down, %').fill('40');
    await page.getByRole('button', {name: 'Pick the colour there'}).click();
    await page.getByText(/% of the picture is the same to/).waitFor({timeout: 30_000});
    const marked = await page.locator('canvas.hatch').evaluate((canvas) => {
      const {data} = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
      return data.filter((value, i) => i % 4 === 3 && value > 0).length;
    });
    assert.ok(marked > 0, 'at least the colour itself is hatched');
    await shot(page, 'views-same');
    await page.getByLabel('Across, %').fill('70');
    await page.getByRole('button', {name: 'Pick the colour there'}).click();
    await page.getByRole('columnheader', {name: 'thresholds apart'}).waitFor();
    const rows = await page.locator('table', {hasText: 'thresholds apart'}).locator('tbody tr').allInnerTexts();
    assert.equal(rows.length, 10);
    const of = (name) => Number(rows.find((row) => row.startsWith(name)).split('\t')[1]);
    assert.ok(of('normal') >= of('deutan:0') && of('deutan:20') >= of('deutan:5'), rows.join('; '));
    quiet();
    await context.close();
  });

  test('the edge is wiped, and blinking is slow enough', {timeout: 60_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, original);
    await page.getByLabel('Edge').fill('20');
    assert.match(await page.locator('canvas.over-it').evaluate((canvas) => canvas.style.clipPath), /20%/);
    const button = page.getByRole('button', {name: 'Blink original and view'});
    await button.click();
    const changes = await page.locator('canvas.over-it').evaluate((canvas) => new Promise((done) => {
      let count = 0, last = canvas.style.clipPath;
      const watch = new MutationObserver(() => {
        if (canvas.style.clipPath !== last) ++count;
        last = canvas.style.clipPath;
      });
      watch.observe(canvas, {attributes: true});
      setTimeout(() => done(count), 3000);
    }));
    assert.ok(changes >= 4 && changes <= 9, `${changes} changes in 3 s: at most three flashes, two changes each, a second`);
    await button.click();
    quiet();
    await context.close();
  });

  test('figures are given in three kinds, and what is no picture is refused with words', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, original);
    for (const [name, start] of [['SVG', '<svg'], ['PNG', '\x89PNG'], ['PDF', '%PDF']]) {
      const waiting = page.waitForEvent('download');
      await page.getByRole('link', {name, exact: true}).first().click();
      const bytes = readFileSync(await (await waiting).path()).toString('latin1');
      assert.ok(bytes.startsWith(start), `${name} begins with ${start}`);
      if (name === 'SVG') for (const words of ['<title>', '<desc>', 'not for diagnosis', 'CC0', 'reduced CIEDE2000', 'srgb/oled']) assert.ok(bytes.includes(words), words);
    }
    const text = join(scratch, 'text.png');
    writeFileSync(text, 'no picture at all');
    await page.getByLabel(/^Picture: drop/).setInputFiles(text);
    await page.getByRole('alert').getByText(/no PNG, JPEG/).waitFor();
    quiet({allow: [422]});
    await context.close();
  });

  test('on a phone the page keeps to its width', {timeout: 60_000}, async () => {
    const {page, context, quiet} = await open({viewport: {width: 390, height: 800}});
    await look(page, original);
    await page.getByText(/Error \d\.\d\d on average/).waitFor({timeout: 30_000});
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), 'nothing hangs over');
    await shot(page, 'views-390');
    quiet();
    await context.close();
  });
});
