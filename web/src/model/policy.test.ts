import {describe, expect, test} from 'vitest';

import {policyReports, policyWords} from './policy.ts';

describe('reports of the policy', () => {
  test('are said as a number with the directive, each once', () => {
    const one = {directive: 'script-src-elem', blocked: 'inline'};
    const read = policyReports({reports: 3, left_aside: 0, last: [one, one, {directive: 'img-src', blocked: 'an address'}]}, 'reply');
    expect(policyWords(read)).toBe('Browsers kept pages of this program from something 3 times: script-src-elem (inline), img-src (an address).');
  });
  test('are not mentioned when there is none', () => {
    expect(policyWords({reports: 0, left_aside: 0, last: []})).toBe('');
  });
});
