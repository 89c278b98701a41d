import {expect, test} from 'vitest';

import {answerRows, csvOf, emptySheet, keptSheets, lackOf, NO_FIGURE, type PaperRow, paperScores, readAsDrawnWords, ticked} from './paper.ts';

const rows: readonly PaperRow[] = [
  {number: 1, name: 'old island', kind: 'opener', symbols: ['1', '4'], figures: 1},
  {number: 2, name: 'mild mill', kind: 'fork', symbols: ['1', '4'], figures: 2},
  {number: 3, name: 'plain lantern', kind: 'tritan', symbols: ['1', '4'], figures: 1},
];

test('typed sheets become the table the program reads', () => {
  let sheet = {...emptySheet(rows), pseudonym: ' calm ferry '};
  sheet = ticked(sheet, 0, 0, '4');
  sheet = ticked(sheet, 1, 0, '1');
  sheet = ticked(sheet, 1, 1, '4');
  const second = {...ticked(ticked(emptySheet(rows), 0, 0, NO_FIGURE), 1, 1, '4'), pseudonym: 'near, "gate"', eye: 'left' as const};
  expect(csvOf(rows, [sheet, second])).toBe('pseudonym,eye,1,2,3\ncalm ferry,,4,1+4,\n"near, ""gate""",left,none,4,\n');
  expect(csvOf(rows, [{...ticked(ticked(emptySheet(rows), 1, 0, '4'), 1, 1, '4'), pseudonym: 'a'}])).toContain('a,,,4,');
});

test('a sheet is added once it says whose it is and holds something', () => {
  const sheet = emptySheet(rows);
  expect(lackOf(sheet, [])).toMatch(/pseudonym/);
  const named = {...sheet, pseudonym: 'calm ferry'};
  expect(lackOf(named, [])).toMatch(/Nothing is ticked/);
  const full = ticked(named, 2, 0, NO_FIGURE);
  expect(lackOf(full, [])).toBeNull();
  expect(lackOf(full, [full])).toMatch(/already/);
  expect(lackOf({...full, eye: 'left'}, [full])).toBeNull();
});

test('kept sheets come back only where they fit the set', () => {
  const sheet = {...ticked(emptySheet(rows), 0, 0, '4'), pseudonym: 'calm ferry'};
  expect(keptSheets(JSON.stringify([sheet]), rows)).toEqual([sheet]);
  expect(keptSheets(JSON.stringify([ticked(sheet, 0, 0, '7')]), rows)).toBeNull();
  expect(keptSheets(JSON.stringify([sheet]), rows.slice(1))).toBeNull();
  expect(keptSheets('{', rows)).toBeNull();
  expect(keptSheets(null, rows)).toBeNull();
});

test('what is scored is decoded and said', () => {
  expect(answerRows({plates: rows, intended_use: 'teaching'}, 'reply').plates).toEqual(rows);
  expect(() => answerRows({plates: [{...rows[0], figures: 3}], intended_use: ''}, 'reply')).toThrow();
  const scores = {
    display: 'srgb/oled', prior: '', assumptions: [], intended_use: 'teaching', whom_to_see: 'a practitioner', set_hash: 'x',
    people: [{
      pseudonym: 'calm ferry', eye: null, interpretable: true, verdict: 'normal', summary: '', kinds: [], evidence: [],
      misses: {vanishing: {missed: 2, shown: 10}, blue_yellow: {missed: 0, shown: 2}}, median_seconds: 2.5, plates: [], notes: [], caution: '',
    }],
  };
  const person = paperScores(scores, 'reply').people[0]!;
  expect(readAsDrawnWords(person.misses)).toBe('Read as drawn: 8 of 10 vanishing plates, 2 of 2 blue–yellow plates.');
  expect(readAsDrawnWords({vanishing: {missed: 0, shown: 0}, blue_yellow: {missed: 0, shown: 0}})).toBe('No plate that counts was shown.');
});
