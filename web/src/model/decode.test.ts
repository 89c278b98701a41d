import {expect, test} from 'vitest';

import {count, finite, id, list, nullable, oneOf, record, text} from './decode.ts';

const person = record<{name: string; ages: readonly number[]}>({name: text, ages: list(count)});

test('a record keeps what is asked for and ignores the rest', () => {
  expect(person({name: 'x', ages: [1, 2], more: true}, 'p')).toEqual({name: 'x', ages: [1, 2]});
});

test('a complaint names the place', () => {
  expect(() => person({name: 'x', ages: [1, -2]}, 'p')).toThrow('p.ages[1] should be a whole number from 0 up');
  expect(() => person({ages: []}, 'p')).toThrow('p.name should be a text');
  expect(() => person([], 'p')).toThrow('p should be an object');
});

test('numbers must be finite', () => {
  expect(() => finite(Number.NaN, 'n')).toThrow('n should be a finite number');
  expect(() => finite('3', 'n')).toThrow('n should be a finite number');
});

test('an id is 32 lower-case hexadecimal digits', () => {
  expect(id('0123456789abcdef0123456789abcdef', 'i')).toHaveLength(32);
  expect(() => id('0123456789ABCDEF0123456789abcdef', 'i')).toThrow('i should be 32');
});

test('a choice outside the list is refused, null only where allowed', () => {
  expect(() => oneOf('a', 'b')('c', 'choice')).toThrow('choice should be one of a, b');
  expect(nullable(text)(null, 't')).toBeNull();
  expect(() => text(null, 't')).toThrow('t should be a text');
});
