// @vitest-environment node
// The schema of a set, and the example of one, checked by a validator that is not ours (ajv, JSON Schema 2020-12).
import Ajv2020 from 'ajv/dist/2020.js';
import {expect, test} from 'vitest';

import kept from '../../../docs/examples/set.json';
import schema from '../../../docs/schema/set.schema.json';

const valid = new Ajv2020({strict: true, allowUnionTypes: true}).compile(schema);
const example = () => structuredClone(kept) as any;

test('the example of a set is one', () => {
  expect(valid(example()), JSON.stringify(valid.errors)).toBe(true);
});

test.each<[string, (set: ReturnType<typeof example>) => void]>([
  ['a code of 256', (set) => { set.plates[0].codes[0][0][1] = 256; }],
  ['a kind there is not', (set) => { set.plates[0].kind = 'concealed'; }],
  ['a plate without a seed', (set) => { delete set.plates[0].seed; }],
  ['a name of one word', (set) => { set.plates[0].name = 'calm'; }],
  ['three figures', (set) => { set.plates[0].figures = Array(3).fill(set.plates[0].figures[0]); }],
  ['a hash cut short', (set) => { set.hash = set.hash.slice(1); }],
  ['another format', (set) => { set.format = 2; }],
  ['something beside', (set) => { set.remark = 'mine'; }],
  ['the same symbol twice', (set) => { set.symbols = ['1', '1']; }],
])('%s is refused', (_what, spoil) => {
  const set = example();
  spoil(set);
  expect(valid(set)).toBe(false);
});
