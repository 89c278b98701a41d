import {expect, test} from 'vitest';

import {
  afterKey, commandLines, dragged, moved, normalWish, observerText, stripObserver, valueOf, valueText, type Wish, wishFrom,
} from './observer.ts';

const aged: Wish = {deviation: {kind: 'protan', separationNm: 6}, traits: {...normalWish.traits, age: 45, 'density-m': 0.35}};

test.each([
  'normal', 'protan:6', 'deutan:0', 'deutan:12.5', 'tritan', 'tritan,s-density=0.2', 'rod-monochromat', 'protan:6,age=45,field=4,density-l=0.4',
])('%s is read and spelt again alike', (text) => {
  const wish = wishFrom(text);
  expect(wish === null ? null : observerText(wish)).toBe(text);
});

test('no number after protan means none left; 28 is the normal observer', () => {
  expect(wishFrom('protan')).toEqual(wishFrom('protan:0'));
  expect(wishFrom('deutan:28')).toEqual(wishFrom('normal'));
});

test.each(['', 'protan:', 'protan:six', 'normal:3', 'protan:6:7', 'protan,shoe=4', 'protan,age', 'deutan,s-density=.5', 'someone'])(
  '“%s” is no observer', (text) => expect(wishFrom(text)).toBeNull(),
);

test('over the distance between the peaks the separation runs from 28 nm to 0', () => {
  expect(dragged('l', 28, {nm: -25, height: 0}, 25)).toBeCloseTo(0);
  expect(dragged('l', 28, {nm: -12.5, height: 0}, 25)).toBeCloseTo(14);
  expect(dragged('m', 28, {nm: 25, height: 0}, 25)).toBeCloseTo(0);
  expect(dragged('m', 14, {nm: -12.5, height: 0}, 25)).toBeCloseTo(28);
  expect(dragged('s', 1, {nm: 40, height: -0.75}, 25)).toBeCloseTo(0.25);
});

test('a curve stays within its range, in steps of its grain', () => {
  expect(moved('l', 6.26)).toEqual({kind: 'protan', separationNm: 6.5});
  expect(moved('m', -3)).toEqual({kind: 'deutan', separationNm: 0});
  expect(moved('l', 40)).toEqual({kind: 'normal'});
  expect(moved('s', 0.333)).toEqual({kind: 'tritan', sDensity: 0.33});
  expect(moved('s', 2)).toEqual({kind: 'normal'});
});

test('one curve deviates at a time: the others stand at their place', () => {
  const deviation = moved('m', 5);
  expect([valueOf(deviation, 'l'), valueOf(deviation, 'm'), valueOf(deviation, 's')]).toEqual([28, 5, 1]);
});

test('left and right move the curve as seen, up and down the value', () => {
  expect([afterKey('l', 10, 'ArrowLeft'), afterKey('m', 10, 'ArrowRight'), afterKey('m', 10, 'ArrowUp')]).toEqual([9, 9, 11]);
  expect([afterKey('l', 10, 'PageDown'), afterKey('l', 10, 'Home'), afterKey('m', 10, 'End')]).toEqual([5, 0, 28]);
  expect(afterKey('s', 0.5, 'PageUp')).toBeCloseTo(0.7);
  expect(afterKey('l', 10, 'x')).toBeNull();
});

test('a slider says its unit and what it is out of', () => {
  expect(valueText('l', 6)).toBe('residual separation 6 nm of 28');
  expect(valueText('s', 0.4)).toBe('S density 0.4 of 1');
});

test('the command lines ask the same', () => {
  expect(commandLines(aged, 'srgb/oled')).toEqual([
    'copunctal observer describe --kind protan --separation 6 --age 45 --density-m 0.35 --display srgb/oled',
    'copunctal view PICTURE.png -o SEEN.png --as protan:6,age=45,density-m=0.35 --display srgb/oled',
  ]);
  expect(commandLines(normalWish, 'my screen.icc')[0]).toBe("copunctal observer describe --kind normal --display 'my screen.icc'");
});

test('a strip keeps everything but the separation', () => {
  expect(stripObserver('deutan', 20, aged.traits)).toBe('deutan:20,age=45,density-m=0.35');
  expect(stripObserver('deutan', 28, aged.traits)).toBe('normal,age=45,density-m=0.35');
});
