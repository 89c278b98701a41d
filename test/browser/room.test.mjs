// The room before, beside and after a practical: what browsers refused, and whether devices can show a plate.

import assert from 'node:assert/strict';
import {spawn} from 'node:child_process';
import {mkdtemp, readdir, rm} from 'node:fs/promises';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {describe, test} from 'node:test';

import {assertAccessible, call, openPage, PROGRAM, roomAddress, shot, startBoth} from './harness.mjs';

const {program, browser} = await startBoth();

async function fits(page) {
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing sticks out');
}

describe('what a browser refused', () => {
  test('is reported by it and told to the instructor, without any address', async () => {
    assert.equal((await call(program, 'GET', '/api/csp-reports')).body.reports, 0);
    // Not openPage: here a refusal is what is wanted.
    const context = await browser.newContext();
    const page = await context.newPage();
    await page.goto(`${program.url}/join`);
    await page.evaluate(() => {
      const script = document.createElement('script');
      script.setAttribute('nonce', 'none');
      const image = document.createElement('img');
      image.src = 'http://192.0.2.99/secret.png?who=somebody';
      document.body.append(image, script);
    });
    let found = null;
    for (let tries = 0; tries < 50 && (found === null || found.reports === 0); ++tries) {
      await new Promise((done) => setTimeout(done, 100));
      found = (await call(program, 'GET', '/api/csp-reports')).body;
    }
    assert.equal(found.reports, 1);
    assert.deepEqual(found.last, [{directive: 'img-src', blocked: 'an address'}]);
    await context.close();
    const own = await openPage(browser, program.url);
    await own.page.goto(program.url);
    await own.page.getByText('Browsers kept pages of this program from something 1 time: img-src (an address).').waitFor();
    await assertAccessible(own.page, 'start page with a report');
    own.quiet();
    await own.context.close();
  });
});

/** `preflight` on an address of the network, or on this computer alone. */
async function startPreflight(...more) {
  const scratch = await mkdtemp(join(tmpdir(), 'copunctal-preflight-'));
  const child = spawn(PROGRAM, ['preflight', '--data', join(scratch, 'data'), '--port', '0', ...more], {stdio: ['ignore', 'pipe', 'pipe']});
  const exited = new Promise((done) => child.once('exit', (code, signal) => done(code ?? signal)));
  let printed = '';
  child.stdout.on('data', (chunk) => { printed += chunk; });
  const said = async (pattern) => {
    for (let tries = 0; tries < 100; ++tries) {
      const match = pattern.exec(printed);
      if (match !== null) return match;
      await new Promise((done) => setTimeout(done, 100));
    }
    throw new Error(`preflight did not say ${pattern}:\n${printed}`);
  };
  return {
    said, scratch,
    stop: async () => {
      child.kill('SIGTERM');
      const how = await exited;
      const left = await readdir(scratch, {recursive: true});
      await rm(scratch, {recursive: true, force: true});
      return {how, left};
    },
  };
}

describe('the devices of a room', () => {
  test('look at themselves on this computer, beside a practical', async () => {
    const {page, context, quiet} = await openPage(browser, program.url);
    await page.goto(`${program.url}/preflight`);
    await page.getByRole('heading', {name: /This device: “[a-z]+ [a-z]+”/}).waitFor();
    await page.getByRole('rowheader', {name: 'this computer'}).waitFor();
    const {body} = await call(program, 'GET', '/api/preflight-devices');
    const own = body.devices.find(({device}) => device === 0);
    assert.equal(own.codes.checked, 3072);
    assert.equal(own.codes.wrong, 0, 'codes come back as they were drawn');
    assert.ok(own.refresh_hz > 20, `${own.refresh_hz} Hz`);
    assert.deepEqual(own.window_px, [1366, 768]);
    assert.equal(own.findings.find(({what}) => what === 'plate').state, 'note', '768 pixels hold a plate, not the answers below it');
    await assertAccessible(page, 'devices of the room');
    await shot(page, 'preflight-instructor');
    quiet();
    await context.close();
  });

  test('are told of by `preflight` as they come, and nothing of them is stored', {skip: roomAddress === undefined && 'this machine has no network address'}, async () => {
    const preflight = await startPreflight('--lan-plain', '--interface', roomAddress);
    const [, onDevice] = await preflight.said(/On each device: (\S+)\n/);
    const [, here] = await preflight.said(/On this computer: (\S+)\n/);
    assert.match(onDevice, new RegExp(`^http://${roomAddress.replaceAll('.', '\\.')}:\\d+/preflight#[0-9A-Z]{8}$`));

    const base = new URL(onDevice).origin;
    const phone = await openPage(browser, base, {viewport: {width: 390, height: 844}, deviceScaleFactor: 2});
    await phone.page.goto(onDevice);
    await phone.page.getByRole('heading', {name: /This device: “/}).waitFor();
    assert.equal(new URL(phone.page.url()).hash, '', 'the code does not stay in the address');
    await phone.page.getByText('It will do.').waitFor();
    await phone.page.getByText('others of this network can read along').waitFor();
    await fits(phone.page);
    await assertAccessible(phone.page, 'a phone that looks at itself');
    await shot(phone.page, 'preflight-phone');
    await preflight.said(/[a-z]+ [a-z]+, device 1: note/);
    assert.equal(await phone.page.evaluate(() => fetch('/api/preflight-devices').then(({status}) => status)), 404, 'the list is not for devices');

    // One too small, and typed by hand.
    const small = await openPage(browser, base, {viewport: {width: 390, height: 600}});
    await small.page.goto(`${base}/`);
    await small.page.getByLabel('Code of the class').fill(onDevice.split('#')[1]);
    await small.page.getByRole('button', {name: 'Join'}).click();
    await small.page.getByText('Something should be mended first.').waitFor();
    await preflight.said(/device 2: mend\n(.*\n)*?  plate \(mend\): only 390 of the 640 pixels/);

    const own = await openPage(browser, here);
    await own.page.goto(here);
    await own.page.getByRole('rowheader', {name: 'device 2'}).waitFor();
    await assertAccessible(own.page, 'the list of devices');
    await shot(own.page, 'preflight-list');
    for (const {context} of [phone, small, own]) await context.close();
    phone.quiet();
    small.quiet();
    const {how, left} = await preflight.stop();
    assert.equal(how, 0);
    assert.deepEqual(left, [], 'nothing was stored');
  });
});
