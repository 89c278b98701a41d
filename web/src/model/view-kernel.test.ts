import {expect, test} from 'vitest';

import inline from '../generated/view_kernel.wasm?inline';
import fixture from './view-kernel.fixture.json';
import {createKernel, spread} from './view-kernel.ts';

const wasm = await (await fetch(inline)).arrayBuffer();

// 16 x 16 x 16 colours, in steps of 17, blue fastest.
const colours = Uint8Array.from({length: 3 * 4096}, (_, i) => 17 * ((Math.floor(i / 3) >> (8 - 4 * (i % 3))) & 15));

test('the kernel in the page gives the program’s very bytes', async () => {
  const kernel = await createKernel(wasm);
  expect(fixture.length).toBe(3);
  for (const {plan, after} of fixture) {
    const rgba = new Uint8ClampedArray(4 * 4096);
    kernel.apply({observer: '', method: '', is_whole: true, notes: [], ...plan}, colours, rgba);
    const seen = Array.from(rgba).filter((_, i) => i % 4 !== 3);
    expect(seen.map((code) => code.toString(16).padStart(2, '0')).join('')).toBe(after);
    expect(Array.from(rgba).filter((_, i) => i % 4 === 3).every((alpha) => alpha === 255)).toBe(true);
  }
});

test('a picture larger than its memory goes through in strips', async () => {
  const kernel = await createKernel(wasm);
  const identity = {observer: '', method: '', is_whole: true, notes: [], a: [1, 0, 0, 0, 1, 0, 0, 0, 1], k: [0, 0, 0], n: [0, 0, 0], two_sided: false};
  const rgb = Uint8Array.from({length: 3 * 70_001}, (_, i) => (i * 7) % 256), rgba = new Uint8ClampedArray(4 * 70_001), plain = new Uint8ClampedArray(4 * 70_001);
  kernel.apply(identity, rgb, rgba);
  spread(rgb, 70_001, plain);
  expect(rgba).toEqual(plain);
});
