// On plain http over a network address browsers leave out what they call features of a secure context. On localhost they are
// all there, so only reading the sources tells that no page of a participant's needs one.
import {expect, test} from 'vitest';

const FEATURES: readonly (readonly [string, RegExp])[] = [
  ['crypto.randomUUID', /\brandomUUID\b/],
  ['crypto.subtle', /\bsubtle\b/],
  ['service workers', /\bserviceWorker\b/],
  ['clipboard', /\bclipboard\b(?!Data)/],
  ['caches', /\bcaches\s*\./],
  ['locks', /\bnavigator\s*\??\.\s*locks\b/],
  ['storage manager', /\bnavigator\s*\??\.\s*storage\b/],
  ['wake lock', /\bwakeLock\b/],
  ['shared memory', /\bSharedArrayBuffer\b|\bcrossOriginIsolated\b/],
  ['devices', /\bnavigator\s*\??\.\s*(mediaDevices|geolocation|bluetooth|usb|hid|serial|gpu|share|credentials|keyboard|getBattery|permissions|virtualKeyboard)\b/],
  ['notifications', /\bNotification\b|\bPushManager\b/],
  ['file pickers', /\bshow(Open|Save|Directory)(File)?Picker\b/],
  ['screens', /\bgetScreenDetails\b|\bisExtended\b/],
  ['worklets', /\bAudioWorklet\b|\bpaintWorklet\b/],
  ['colour picker', /\bEyeDropper\b/],
];

/** Where one is used and does without it when it is missing. */
const KNOWN = new Map([['pages/copy-text.ts: clipboard', 'on an instructor\'s pages; the line is selected instead']]);

/** Code without its comments. */
const code = (text: string): string => text.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|[^:])\/\/.*$/gm, '$1');

function found(text: string): readonly string[] {
  return FEATURES.filter(([, pattern]) => pattern.test(code(text))).map(([name]) => name);
}

const sources = Object.entries(import.meta.glob<string>(['./**/*.ts', './**/*.tsx', '!./**/*.test.ts', '!./**/*.test.tsx'], {
  query: '?raw', import: 'default', eager: true,
}));

test('no page needs a feature of a secure context', () => {
  expect(sources.length).toBeGreaterThan(40);
  const used = sources.flatMap(([file, text]) => found(text).map((name) => `${file.replace('./', '')}: ${name}`));
  expect(used.sort()).toEqual([...KNOWN.keys()].sort());
});

test('ids come from what works on plain http', () => {
  expect(sources.find(([file]) => file === './pages/browser.ts')?.[1]).toContain('crypto.getRandomValues');
});

test.each([
  'const id = crypto.randomUUID();', 'await crypto.subtle.digest("SHA-256", bytes);', 'navigator.serviceWorker.register("/a.js");',
  'navigator?.locks.request("a", f);', 'await navigator.clipboard.writeText(line);', 'new SharedArrayBuffer(8)',
  'caches.open("a")', 'navigator.storage.persist()', 'await navigator.wakeLock.request("screen")',
])('the check finds %s', (line) => {
  expect(found(line)).toHaveLength(1);
  expect(found(`// ${line}`)).toHaveLength(0);
});
