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

  test('everything shown can be kept as a figure of three kinds, and what is no picture is refused with words', {timeout: 240_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, original);
    await page.getByText(/Error \d\.\d\d on average/).waitFor({timeout: 30_000});
    const keep = async (what, ground, kind, file = null) => {
      const waiting = page.waitForEvent('download');
      await page.getByRole('link', {name: `${what}, ${kind} on ${ground} ground`, exact: true}).click();
      const bytes = readFileSync(await (await waiting).path());
      writeFileSync(join(process.env.COPUNCTAL_SHOTS ?? scratch, `figure-${what.replaceAll(' ', '-')}-${ground}.${kind.toLowerCase()}`), bytes);
      if (file !== null) writeFileSync(file, bytes);
      const start = {SVG: '<svg', PNG: '\x89PNG', PDF: '%PDF'}[kind];
      assert.ok(bytes.toString('latin1').startsWith(start), `${what}: ${kind} begins with ${start}`);
      return bytes.toString('utf8');
    };
    const figures = async (what, words) => {
      // It stays open when what is kept becomes another.
      const ways = page.locator('details', {has: page.getByText(`Keep ${what} as a figure`, {exact: true})});
      if (await ways.getAttribute('open') === null) await ways.locator('summary').click();
      const svg = await keep(what, 'light', 'SVG');
      for (const word of ['<title>', '<desc>', 'not for diagnosis', 'CC0', 'srgb/oled', ...words]) assert.ok(svg.includes(word), `${what}: ${word}`);
      assert.ok(svg.includes('fill="#ffffff"') && (await keep(what, 'dark', 'SVG')).includes('fill="#141414"'), `${what}: two grounds`);
      // What is shown is said in the file, where programs look for it (PNG, ISO/IEC 15948: iTXt).
      const title = /<title>(.*)<\/title>/.exec(svg)[1].replaceAll('&quot;', '"').replaceAll('&amp;', '&');
      for (const ground of ['light', 'dark']) assert.ok((await keep(what, ground, 'PNG')).includes(`iTXtTitle\0\0\0\0\0${title}`), `${what}: the PNG says its title`);
      return title;
    };
    const title = await figures('original and view', ['reduced CIEDE2000', 'method plane']);
    const pdf = join(scratch, 'figure.pdf');
    await keep('original and view', 'dark', 'PDF', pdf);
    const info = execFileSync('pdfinfo', [pdf], {encoding: 'utf8'});
    assert.match(info, new RegExp(`^Title: +${title}$`, 'm'));
    assert.match(info, /^Subject: +Left: original\. Right: as deutan:0 gets it/m);
    // 320 mm x 180 mm, in points.
    assert.match(info, /^Page size: +907\.\d+ x 510\.\d+ pts/m);
    await figures('the cone curves', ['The cone curves of deutan:0', '>L<', '>M<', '>S<']);
    await figures('where it errs', ['Where our view for deutan:0 errs', 'darker the larger']);
    await figures('the strip', ['deutan dichromat', '28 nm', '>5 nm<']);
    const cross = async (across, down) => {
      await page.getByLabel('Across, %').fill(String(across));
      await page.getByLabel('Down, %').fill(String(down));
      await page.getByRole('button', {name: 'Pick the colour there'}).click();
    };
    await cross(30, 40);
    await page.getByText(/% of the picture is the same to/).waitFor();
    const share = /([\d.]+) % of the picture/.exec(await page.getByText(/% of the picture is the same to/).textContent())[1];
    await figures('what is the same', [`${share} % of the picture is the same to deutan:0 as colour 1`]);
    await cross(60, 30);
    const row = page.getByRole('row', {name: /^protan:10 /});
    await row.waitFor();
    const distance = await row.getByRole('cell').first().textContent();
    await figures('how far they are apart', [`protan:10: ${distance}.`, 'deutan:0']);
    await page.getByLabel(/^Other view: drop/).setInputFiles(original);
    await page.getByText('Where the other view errs.').waitFor({timeout: 30_000});
    await figures('where the other view errs', ['Where another']);
    const address = await page.getByRole('link', {name: 'original and view, SVG on light ground', exact: true}).getAttribute('href');
    const refused = [];
    for (const [asked, status] of [
      ['what=all', 422], ['what=same', 422], ['what=same&at=9999,1', 422], ['what=same&at=1,1&to=-1,1', 422], ['what=same&at=here', 422], ['kind=gif', 422],
      ['ground=red', 422], ['as=nobody', 422], [`what=errors&view=${'0'.repeat(32)}`, 404],
    ]) refused.push([asked, await page.evaluate(async (place) => (await fetch(place)).status, `${address.split('?')[0]}?${asked}`), status]);
    assert.deepEqual(refused.filter(([, got, wanted]) => got !== wanted), []);
    const text = join(scratch, 'text.png');
    writeFileSync(text, 'no picture at all');
    await page.getByLabel(/^Picture: drop/).setInputFiles(text);
    await page.getByRole('alert').getByText(/no PNG, JPEG/).waitFor();
    quiet({allow: [404, 422]});
    await context.close();
  });

  test('an eye can be chosen by its name, of any age, by keyboard', {timeout: 120_000}, async () => {
    const {page, context, quiet} = await open();
    await look(page, original);
    const choice = page.getByLabel('Whose eye');
    assert.equal(await choice.inputValue(), 'deutan:0');
    await choice.focus();
    for (const [eye, words, method] of [
      ['rod-monochromat', 'a rod monochromat', 'grey'], ['s-cone-monochromat', 'an S-cone monochromat', 'grey'], ['tritan', 'a tritan without', 'half-planes'],
      ['protan:10', 'a protan, residual separation 10 nm', 'substitution'],
    ]) {
      await choice.selectOption(eye);
      await page.getByRole('heading', {name: new RegExp(`As ${words}`)}).waitFor();
      await page.getByText(`right of it the view: method ${method}.`).waitFor();
      await page.getByText(/Error \d+\.\d\d on average/).waitFor({timeout: 30_000});
    }
    // A curve that is moved is an eye of no name.
    await page.getByRole('slider', {name: /^L cone curve/}).press('ArrowRight');
    await page.getByRole('option', {name: 'as the curves stand: protan:11'}).waitFor({state: 'attached'});
    const before = await page.evaluate(() => document.querySelector('canvas.over-it').toDataURL());
    await page.getByLabel('Age').fill('75');
    await page.waitForFunction((first) => document.querySelector('canvas.over-it').toDataURL() !== first, before);
    await page.getByRole('heading', {name: 'As a protan, residual separation 11 nm of 28, 75 years old gets it'}).waitFor();
    await assertAccessible(page, 'views with an eye chosen');
    await shot(page, 'views-chosen');
    quiet();
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
