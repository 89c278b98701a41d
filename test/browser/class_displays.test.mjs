// Plates made for a kind of display that joined, while the class is there.

import assert from 'node:assert/strict';
import {test} from 'node:test';

import {assertAccessible, call, openPage, roomAddress, startBrowser, startProgram} from './harness.mjs';


const CHECKED = {
  display: 'display-p3/oled', card_px: null, device_pixel_ratio: 1, screen_px: [1920, 1080], screen_at: [0, 0], colour_depth: 24, gamut: 'p3', tone_matches: [],
  black_step: null, white_step: null, neutral: null, night_mode_off: true, adapted: true, room_light: null, statement: '',
  refresh_hz: null, frame_spread_ms: null, dropped_frames: null,
};

/** The display that the plates of a new sitting on this page's device are made for. */
function madeFor(page, practical) {
  return page.evaluate(async (id) => {
    const wish = {consent: true, tell: 'tell', sex_at_birth: null};
    const reply = await fetch(`/api/practicals/${id}/sittings`, {method: 'POST', headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}, body: JSON.stringify(wish)});
    return (await reply.json()).made_for;
  }, practical);
}

test('plates are made for the displays that joined, and shown from then on', {timeout: 400_000, skip: roomAddress === undefined && 'this machine has no network address'}, async () => {
  const served = await startProgram({more: ['--lan-plain', '--interface', roomAddress]});
  const browser = await startBrowser();
  try {
    const {body: practical} = await call(served, 'POST', '/api/practicals', {name: 'Two kinds of screens'});
    const {body: door} = await call(served, 'GET', '/api/class');
    const base = door.network.address.slice(0, -1);
    const device = await openPage(browser, base, {viewport: {width: 390, height: 844}});
    await device.page.goto(`${base}/join#${door.network.join_address.split('#')[1]}`);
    await device.page.getByRole('link', {name: 'Sit it: Two kinds of screens'}).waitFor();
    const checked = await device.page.evaluate(async (body) =>
      (await fetch('/api/display-records', {method: 'POST', headers: {'Content-Type': 'application/json', 'X-Copunctal': '1'}, body: JSON.stringify(body)})).status, CHECKED);
    assert.equal(checked, 201);
    assert.equal(await madeFor(device.page, practical.id), 'srgb/oled', 'before there are others');

    const {page, context, quiet} = await openPage(browser, served.url);
    await page.goto(`${served.url}/practical/${practical.id}`);
    await page.getByText('1 screen checked as display-p3/oled: plates made for srgb/oled are shown.').waitFor();
    await assertAccessible(page, 'a class with a screen of another kind');
    // By keyboard, as everything.
    await page.getByRole('button', {name: 'Make plates for display-p3/oled'}).focus();
    await page.keyboard.press('Enter');
    await page.getByText(/Preparing…|\d+ of 18 plates are made\./).waitFor();
    await page.getByText('1 screen checked as display-p3/oled: plates were made for it.').waitFor({timeout: 300_000});
    assert.equal(await page.getByRole('button', {name: 'Make plates for'}).count(), 0);
    assert.equal(await madeFor(device.page, practical.id), 'display-p3/oled');
    quiet();
    device.quiet();
    await context.close();
    await device.context.close();
  } finally {
    await browser.close();
    await served.stop();
  }
});
