import {expect, test} from 'vitest';

const SOURCES: Readonly<Record<string, string>> = import.meta.glob(['./*/*.ts', './*/*.tsx', '!./*/*.test.*'], {query: '?raw', import: 'default', eager: true});

/** What the files of a folder import, types apart, of folders that are not allowed. */
function strays(folder: string, allowed: readonly string[]): readonly string[] {
  return Object.entries(SOURCES).filter(([path]) => path.startsWith(`./${folder}/`)).flatMap(([path, text]) =>
    [...text.matchAll(/^import (?!type )[^;]*from '\.\.\/([a-z]+)\//gm)].map((match) => match[1]!).filter((other) => !allowed.includes(other))
      .map((other) => `${path} imports of ${other}`));
}

test('pure functions know nothing above them, and parts draw what they get', () => {
  expect(strays('model', [])).toEqual([]);
  expect(strays('api', ['model'])).toEqual([]);
  expect(strays('parts', ['model'])).toEqual([]);
});

test('a folder that climbs is found', () => {
  expect(strays('pages', ['model'])).toContain('./pages/views.tsx imports of parts');
});
