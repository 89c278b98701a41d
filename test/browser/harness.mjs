// What the browser tests share: the program under test, Chromium, the simulated eye, and a check for accessibility.

import {execFile, spawn} from 'node:child_process';
import assert from 'node:assert/strict';
import {cp, mkdir, mkdtemp, readFile, rm, writeFile} from 'node:fs/promises';
import {createRequire} from 'node:module';
import {networkInterfaces, tmpdir} from 'node:os';
import {dirname, join, resolve} from 'node:path';
import {after} from 'node:test';
import {fileURLToPath} from 'node:url';
import {promisify} from 'node:util';

export const HERE = dirname(fileURLToPath(import.meta.url));
const ROOT = join(HERE, '../..');
const fromWeb = createRequire(join(ROOT, 'web/package.json'));
const {chromium} = fromWeb('playwright-core');
const run = promisify(execFile);

/** The program that serves the pages, and the program that reads a plate as an observer would. */
export const PROGRAM = resolve(process.env.COPUNCTAL_PROGRAM ?? join(ROOT, 'build/release/copunctal'));
export const EYE = resolve(process.env.COPUNCTAL_EYE ?? join(ROOT, 'build/release/test/tools/simulated_eye'));

/** An address other than loopback, as a room's network would have it: from loopback everybody is the instructor. Undefined where there is none. */
export const roomAddress = Object.values(networkInterfaces()).flat().find(({family, internal}) => family === 'IPv4' && !internal)?.address;

/** A picture of the page for somebody to look at, where COPUNCTAL_SHOTS names a directory. */
export async function shot(page, name) {
  if (!process.env.COPUNCTAL_SHOTS) return;
  await mkdir(process.env.COPUNCTAL_SHOTS, {recursive: true});
  await page.screenshot({path: join(process.env.COPUNCTAL_SHOTS, `${name}.png`), fullPage: true});
}

/** The first start makes the plate set. */
const START_LIMIT_MS = 240_000;

/**
 * Starts the program on a free port with a data directory of its own.
 * COPUNCTAL_SET_DATA names a data directory to copy first, so that a plate set already made is used again.
 * `more` are words more of the command line. `symbols` has a set of such symbols made first, with `seed`, and serves it;
 * where COPUNCTAL_SYMBOL_SETS names a directory, a copy of the set made there.
 */
export async function startProgram({symbols = null, seed = 7, more = []} = {}) {
  const scratch = await mkdtemp(join(tmpdir(), 'copunctal-browser-'));
  const data = join(scratch, 'data');
  if (process.env.COPUNCTAL_SET_DATA) await cp(process.env.COPUNCTAL_SET_DATA, data, {recursive: true});
  const served = ['serve', '--data', data, '--port', '0', ...more];
  if (symbols !== null) {
    const set = join(scratch, 'set');
    const made = process.env.COPUNCTAL_SYMBOL_SETS && join(process.env.COPUNCTAL_SYMBOL_SETS, `${symbols}-${seed}`);
    if (made) await cp(made, set, {recursive: true});
    else await run(PROGRAM, ['plates', 'make', '--for', 'practical', '--display', 'srgb', '--seed', String(seed), '--symbols', symbols, '-o', set]);
    served.push('--set', set);
  }
  const child = spawn(PROGRAM, served, {stdio: ['ignore', 'pipe', 'pipe']});
  const exited = new Promise((done) => child.once('exit', (code, signal) => done(code ?? signal)));
  let errors = '';
  child.stderr.on('data', (chunk) => { errors += chunk; });
  const url = await new Promise((done, fail) => {
    let output = '';
    const limit = setTimeout(() => {
      child.kill('SIGTERM');
      fail(new Error(`${PROGRAM} was not ready within ${START_LIMIT_MS / 1000} s:\n${output}${errors}`));
    }, START_LIMIT_MS);
    child.stdout.on('data', (chunk) => {
      output += chunk;
      const ready = /Copunctal is ready at (http:\/\/127\.0\.0\.1:\d+)\//.exec(output);
      if (ready === null) return;
      clearTimeout(limit);
      done(ready[1]);
    });
    child.once('error', (error) => fail(new Error(`${PROGRAM} cannot be started: ${error.message}; set COPUNCTAL_PROGRAM`)));
    void exited.then((how) => fail(new Error(`${PROGRAM} ended (${how}) before it was ready:\n${output}${errors}`)));
  });
  return {
    url, data, scratch,
    stop: async () => {
      child.kill('SIGTERM');
      const how = await exited;
      await rm(scratch, {recursive: true, force: true});
      return how;
    },
  };
}

export function startBrowser(...more) {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    headless: true,
    args: [
      '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update',
      '--disable-sync', '--force-color-profile=srgb', ...more,
    ],
  });
}

/**
 * A page in a fresh profile that remembers everything a page must not do: errors, refusals by the content security
 * policy, requests to anywhere else. `quiet` at the end asserts that there was none.
 */
export async function openPage(browser, url, options = {}) {
  const context = await browser.newContext({viewport: {width: 1366, height: 768}, ...options});
  context.setDefaultTimeout(15_000);
  const page = await context.newPage();
  const complaints = [];
  page.on('pageerror', (error) => complaints.push(`error in the page: ${error.message}`));
  page.on('console', (message) => {
    // Over a network without TLS the browser says that it leaves one header aside.
    if (message.text().startsWith('The Cross-Origin-Opener-Policy header has been ignored')) return;
    // A refused or failed request is reported by the browser itself; the tests that cause one look at the page.
    if (message.type() === 'error' && !message.text().startsWith('Failed to load resource')) complaints.push(`console: ${message.text()}`);
  });
  page.on('request', (request) => {
    if (!request.url().startsWith(url) && !request.url().startsWith('blob:')) complaints.push(`request to ${request.url()}`);
  });
  return {page, context, quiet: () => assert.deepEqual(complaints, [])};
}

let axeSource = null;

/** Runs axe on the page as it stands; any violation fails, and is named with its place. */
export async function assertAccessible(page, where) {
  axeSource ??= await readFile(fromWeb.resolve('axe-core/axe.min.js'), 'utf8');
  await page.evaluate(axeSource);
  const {violations, passes} = await page.evaluate(() => axe.run(document, {rules: {'color-contrast-enhanced': {enabled: true}, 'target-size': {enabled: true}}}));
  assert.ok(passes.length > 5, `axe looked at ${where}`);
  assert.deepEqual(violations.map(({id, nodes}) => `${where}: ${id}: ${nodes.map((node) => node.html).join(' | ')}`), []);
}

/** The pixels of a canvas, as R, G, B bytes; as text on the way, for a list of a million numbers takes the browser's protocol seconds. */
export async function pixelsOf(canvas) {
  const base64 = await canvas.evaluate((element) => {
    const {data} = element.getContext('2d').getImageData(0, 0, element.width, element.height);
    let text = '';
    for (let at = 0; at < data.length; at += 4) text += String.fromCharCode(data[at], data[at + 1], data[at + 2]);
    return btoa(text);
  });
  return Buffer.from(base64, 'base64');
}

/** The pixels of the plate that stands now. */
export function platePixels(page) {
  return pixelsOf(page.locator('canvas.plate').first());
}

/** What a simulated eye reads in a plate: symbols, ascending. */
export async function eyeReads(program, observer, rgb, {symbols, figures}) {
  const side = Math.sqrt(rgb.length / 3);
  const file = join(program.scratch, 'plate.rgb');
  await writeFile(file, rgb);
  const {stdout} = await run(EYE, [
    '--observer', observer, '--symbols', symbols.join(','), '--figures', String(figures), '--width', String(side), '--height', String(side), file,
  ]);
  const read = JSON.parse(stdout);
  assert.ok(Array.isArray(read.symbols), `the eye answers with a list of symbols, not ${stdout}`);
  return [...read.symbols].sort();
}

/** Calls the program's API directly. */
export async function call(program, method, path, body) {
  const response = await fetch(program.url + path, {
    method,
    headers: method === 'GET' ? {} : {'Content-Type': 'application/json', 'X-Copunctal': '1'},
    ...(body === undefined ? {} : {body: JSON.stringify(body)}),
  });
  const text = await response.text();
  return {status: response.status, body: text === '' ? null : JSON.parse(text)};
}

/** Waits until a plate stands and takes answers. */
export async function plateStands(page) {
  await page.waitForSelector('main.stage .no-figure:enabled', {timeout: 30_000});
}

/** The stage the sitting's page is in: an introduction ready to begin, a plate, or something else that waits. */
export async function nextStage(page) {
  const handle = await page.waitForFunction(() => {
    if (location.pathname.endsWith('/outcome') && document.querySelector('.caution')) return 'outcome';
    if (document.querySelector('main.stage .no-figure:enabled')) return 'plate';
    if (document.querySelector('.introduction .primary.large:enabled')) return 'introduction';
    return null;
  }, null, {timeout: 60_000, polling: 30});
  return handle.jsonValue();
}

/** The program and a browser for the tests of a file, stopped when these are done. */
export async function startBoth() {
  const program = await startProgram();
  after(() => program.stop());
  const browser = await startBrowser();
  after(() => browser.close());
  return {program, browser};
}
