import {expect, test} from 'vitest';

import {across, type Diagram, eye, type Eye, highestNm, neutralWords, rayleighWords} from './eye.ts';

const line = {kind: 'protan', own: true, points: [[0, 0.2], [0.7, 0.3]], angle_deg: -10.1};
const diagram = {
  name: 'xy', axes: ['x', 'y'], range: [[0, 0.8], [0, 0.9]], locus: [[450, 0.16, 0.02], [520, 0.07, 0.83]],
  triangle: [[0.64, 0.33], [0.3, 0.6], [0.15, 0.06]], white: [0.3127, 0.329], at: [0.3, 0.3], lines: [line],
  copunctal: [{kind: 'deutan', point: null, inside: false}],
};
const whole = {
  observer: 'protan:6', kind: 'protan', separation_nm: 6, s_density: 1, age: 32, field: 2, density: {l: 0.5, m: 0.5, s: 0.4},
  display: 'srgb/oled', display_status: 'assumed', display_words: 'assumed', notes: [], nm: [500, 550, 600],
  curves: {l: [0.2, 1, 0.5], m: [0.4, 1, 0.2], s: [0, 0, 0]}, normal: {l: [0.2, 0.9, 1], m: [0.4, 1, 0.2], s: [1, 0, 0]},
  peaks_nm: {l: 550, m: 543, s: null}, diagrams: [diagram], neutral_nm: {display_white: 491.9, d65: null},
  rayleigh: {x: 0.5, y: 1, range: [0.2, 0.8], quotient: 0.23, normal: {x: 0.43, y: 1}, words: 'Many mixtures match.'},
  intended_use: 'for teaching',
};

test('an eye is read whole', () => {
  const read = eye(whole, 'reply');
  expect(read).toMatchObject({observer: 'protan:6', diagrams: [{lines: [line]}], peaks_nm: {s: null}});
  expect(highestNm(read.nm, read.normal.l)).toBe(600);
});

test.each([
  [{...whole, curves: {...whole.curves, m: [1]}}, 'reply.curves.m should be 3 numbers, one for each wavelength'],
  [{...whole, diagrams: []}, 'reply.diagrams should be a list of diagrams'],
  [{...whole, diagrams: [{...diagram, white: [0.3]}]}, 'reply.diagrams[0].white should be 2 numbers'],
  [{...whole, diagrams: [{...diagram, triangle: [[0, 0], [1, 1]]}]}, 'reply.diagrams[0].triangle should be three points'],
  [{...whole, display_status: 'perfect'}, 'reply.display_status should be one of assumed, profile, measured'],
])('a complaint names the place %#', (value, complaint) => {
  expect(() => eye(value, 'reply')).toThrow(complaint);
});

test('the primaries of a display lead from diagram to diagram', () => {
  const xy = eye(whole, 'reply').diagrams[0]!;
  const shrunk: Diagram = {
    ...xy, name: "u'v'", triangle: [[0.32, 0.165], [0.15, 0.3], [0.075, 0.03]], white: [0.15635, 0.1645],
  };
  const [x, y] = across(shrunk, xy, [0.2, 0.1]);
  expect(x).toBeCloseTo(0.4);
  expect(y).toBeCloseTo(0.2);
  expect(across(xy, xy, [0.2, 0.1])).toEqual([0.2, 0.1]);
});

test('words for quotient and neutral points', () => {
  expect(rayleighWords(whole.rayleigh as unknown as Eye['rayleigh'])[0]).toBe('Anomalous quotient 0.23.');
  expect(rayleighWords({...whole.rayleigh, range: [0, 1], quotient: null})[0]).toBe('Anomalous quotient: cannot be given.');
  const read = eye(whole, 'reply');
  expect(neutralWords(read)).toBe('Neutral point: 491.9 nm looks like this display’s white; none for daylight D65.');
  expect(neutralWords({...read, neutral_nm: {display_white: null, d65: null}})).toContain('none');
});
