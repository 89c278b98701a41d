// Practicals without digits in a real browser: where is a ring's gap, at which gate does a path come out?
//
// Environment as in practical.test.mjs. A stand-in for the program makes no sets, so nothing is tested on one.

import assert from 'node:assert/strict';
import {after, before, describe, test} from 'node:test';

import {assertAccessible, call, eyeReads, nextStage, openPage, platePixels, PROGRAM, shot, startBrowser, startProgram} from './harness.mjs';

const NO_SETS = PROGRAM.endsWith('.mjs') && 'this program makes no sets';
const ARROWS = {up: 'ArrowUp', right: 'ArrowRight', down: 'ArrowDown', left: 'ArrowLeft'};

let browser;
before(async () => { browser = await startBrowser(); });
after(async () => { await browser?.close(); });

const GATES = {'gate 1': [0.03, 0.312], 'gate 2': [0.368, 0.03], 'gate 3': [0.632, 0.03], 'gate 4': [0.97, 0.312]};
async function drawTo(page, gate) {
  const box = await page.locator('canvas.plate').boundingBox();
  const at = ([x, y]) => [box.x + x * box.width, box.y + y * box.height];
  await page.mouse.move(...at([0.5, 0.96]));
  await page.mouse.down();
  await page.mouse.move(...at([0.5, 0.75]), {steps: 4});
  // One that ends nowhere answers nothing.
  await page.mouse.up();
  assert.equal(await page.locator('.stroke-layer polyline').first().getAttribute('points'), '');
  await page.mouse.move(...at([0.5, 0.96]));
  await page.mouse.down();
  await page.mouse.move(...at([0.5, 0.8]), {steps: 4});
  await page.mouse.move(...at(GATES[gate]), {steps: 6});
  await page.mouse.up();
}

/** Sits a practical with a simulated eye; returns what was pressed and the family of each round. */
async function sit(page, program, sitting, observer, name) {
  const pressed = [];
  const rounds = {};
  let round = null;
  for (;;) {
    switch (await nextStage(page)) {
      case 'introduction': {
        const {family, symbols, round: {name: title, figures}} = (await call(program, 'GET', `/api/sittings/${sitting}`)).body;
        round = {family, symbols, figures};
        rounds[title] = family;
        await assertAccessible(page, `introduction to ${title}`);
        await shot(page, `${name}-introduction-${title}`);
        await page.getByRole('button', {name: /^(Begin|Go on)$/}).click();
        await page.waitForSelector('main.stage');
        break;
      }
      case 'plate': {
        const label = await page.locator('main.stage').getAttribute('aria-label');
        const read = await eyeReads(program, observer, await platePixels(page), round);
        if (pressed.length < 2 || round.figures === 2) await shot(page, `${name}-plate-${pressed.length}`);
        if (pressed.length === 1) {
          await assertAccessible(page, `a plate of ${round.family}`);
          const names = round.symbols.map((symbol) => (round.family === 'rings' ? `gap ${symbol} key` : `${symbol} key`));
          for (const symbol of names) await page.getByRole('button', {name: symbol}).first().waitFor();
        }
        // A path may be answered by drawing along it: every other one is, from the entrance to the gate.
        const draws = round.family === 'paths' && round.figures === 1 && read.length === 1 && pressed.length % 2 === 1;
        if (draws) await drawTo(page, read[0]);
        for (const symbol of draws ? [] : read) {
          // The key that the symbol's button names: an arrow for an upright ring, else its place in the row.
          const named = round.family === 'rings' ? `gap ${symbol} key` : `${symbol} key`;
          const key = await page.locator('button.symbol').and(page.getByRole('button', {name: new RegExp(`^${named} `)})).getAttribute('aria-keyshortcuts');
          assert.match(key, /^(Arrow(Up|Right|Down|Left)|[1-4])$/);
          if (symbol in ARROWS) assert.equal(key, ARROWS[symbol]);
          await page.keyboard.press(key);
        }
        if (read.length === 0) await page.keyboard.press('n');
        else if (round.figures === 2) await page.keyboard.press('Enter');
        pressed.push(read);
        await page.waitForFunction((before) => {
          const stage = document.querySelector('main.stage');
          return stage === null || stage.getAttribute('aria-label') !== before || stage.querySelector('.no-figure:disabled') !== null;
        }, label);
        break;
      }
      case 'outcome':
        return {pressed, rounds};
    }
  }
}

// Seed 1 draws upright rings; the rings on the paths' fork plates are turned ones with seed 7.
for (const [family, seed, row, observers] of [
  ['rings', 1, ['down', 'left', 'right', 'up'], ['protan:0']],
  ['paths', 7, ['gate 1', 'gate 2', 'gate 3', 'gate 4'], ['protan:0']],
]) {
  describe(`a practical of ${family}`, {skip: NO_SETS}, () => {
    let program;
    before(async () => { program = await startProgram({symbols: family, seed}); }, {timeout: 300_000});
    after(async () => { await program?.stop(); });

    for (const observer of observers) {
      test(`${observer} sits it and is told`, {timeout: 300_000}, async () => {
        const made = await call(program, 'POST', '/api/practicals', {exposure_ms: 20_000});
        const begun = await call(program, 'POST', `/api/practicals/${made.body.id}/sittings`, {consent: true, tell: 'tell', sex_at_birth: null});
        const {sitting} = begun.body;
        assert.deepEqual(begun.body.symbols, row);
        const {page, context, quiet} = await openPage(browser, program.url);
        await page.goto(`${program.url}/sitting/${sitting}`);
        const name = `${family}-${observer.replace(':', '-')}`;
        const {pressed, rounds} = await sit(page, program, sitting, observer, name);

        const outcome = (await call(program, 'GET', `/api/sittings/${sitting}/outcome`)).body;
        assert.deepEqual(outcome.plates.map((plate) => plate.answered), pressed, 'each answer is the one pressed');
        assert.equal(outcome.interpretable, true, 'the openers were read');
        assert.match(outcome.evidence[0].observer, /^protan/);
        assert.equal(rounds.first, family);
        assert.equal(rounds['which-kind'], 'rings', 'fork plates hold rings, paths or not');

        await page.getByRole('heading', {name: 'Plate by plate'}).waitFor();
        const words = await page.locator('.outcome-plate').first().innerText();
        assert.match(words, family === 'rings' ? /gap (up|down|left|right)/ : /gate [1-4]/);
        await assertAccessible(page, 'outcome');
        await shot(page, `${name}-outcome`);
        quiet();
        await context.close();
      });
    }
  });
}
