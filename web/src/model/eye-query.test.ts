import {expect, test} from 'vitest';

import {askedFrom, searchOf} from './eye-query.ts';

test.each(['', '?observer=protan:6,age=45', '?observer=tritan,s-density=0.2&display=display-p3/qd&at=0.3,0.31', '?display=a%26b'])(
  '“%s” is read and written again alike', (search) => {
    const {asked, unread} = askedFrom(search);
    expect(unread).toBeNull();
    expect(searchOf(asked)).toBe(search);
  },
);

test('what cannot be read is named, and the rest still counts', () => {
  expect(askedFrom('?observer=someone&display=srgb/oled')).toMatchObject({unread: 'observer “someone”', asked: {display: 'srgb/oled', wish: {deviation: {kind: 'normal'}}}});
  expect(askedFrom('?at=0.3').unread).toBe('point “0.3”');
  expect(askedFrom('?at=,0.3').unread).toBe('point “,0.3”');
});
