import {expect, test} from 'vitest';

import {about, classState, codeIn} from './join.ts';

test('who asks is read, and another role is not invented', () => {
  const good = {role: 'participant', transport: 'plain', joining: 'open', device: 3, serves: 'practicals', intended_use: 'teaching'};
  expect(about(good, 'reply').device).toBe(3);
  expect(() => about({...good, role: 'examiner'}, 'reply')).toThrow('reply.role');
});

test('a class without a network is one', () => {
  expect(classState({network: null, joining: 'none', code: null, devices: [], wrong_codes: 0}, 'reply').network).toBeNull();
});

test('a code is taken from behind the hash, and nothing else is', () => {
  expect(codeIn('#7K3M9QXT')).toBe('7K3M9QXT');
  expect(codeIn('#7K3M-9QXT')).toBe('7K3M-9QXT');
  for (const other of ['', '#', '#short', '#<script>', '#7K3M9QXT0000']) expect(codeIn(other)).toBe('');
});
