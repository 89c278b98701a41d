#!/usr/bin/env node
// A stand-in for the simulated eye, for mock_server.mjs alone: reads what that server hid in the last bits of a plate's
// first row, and answers as the observer would by definition of the kinds. It looks at no colour.

import {readFileSync} from 'node:fs';
import {parseArgs} from 'node:util';

const {values, positionals} = parseArgs({allowPositionals: true, options: {
  observer: {type: 'string'}, symbols: {type: 'string'}, figures: {type: 'string'}, width: {type: 'string'}, height: {type: 'string'},
}});
const rgb = readFileSync(positionals[0]);
if (rgb.length !== 3 * Number(values.width) * Number(values.height)) throw new Error(`${positionals[0]} has ${rgb.length} bytes`);
const hidden = Buffer.alloc(64);
for (let bit = 0; bit < 512; bit++) hidden[bit >> 3] |= (rgb[3 * bit] & 1) << (7 - bit % 8);
const {kind, drawn} = JSON.parse(hidden.toString());
const protan = values.observer.startsWith('protan');
const seen = !protan ? drawn : {opener: drawn, tritan: drawn, vanishing: [], fork: drawn.slice(0, 1)}[kind];
console.log(JSON.stringify({symbols: [...seen].sort().slice(0, Number(values.figures))}));
