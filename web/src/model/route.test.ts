import {expect, test} from 'vitest';

import {pathOf, type Route, routeOf} from './route.ts';

const id = '0123456789abcdef0123456789abcdef';

test.each<[Exclude<Route, {page: 'unknown'}>]>([
  [{page: 'start'}], [{page: 'eyes'}], [{page: 'display'}], [{page: 'consent', practical: id}], [{page: 'sitting', sitting: id}], [{page: 'outcome', sitting: id}],
])('%o comes back from its own path', (route) => {
  expect(routeOf(pathOf(route))).toEqual(route);
});

test.each(['/sit', '/sit/7', `/sit/${id}/x`, `/sitting/${id}/outcome/x`, `/sitting/${id.toUpperCase()}`, '/elsewhere', '/eyes/x'])(
  '%s leads nowhere', (path) => {
    expect(routeOf(path)).toEqual({page: 'unknown', path});
  },
);

test('a slash at the end does not matter', () => {
  expect(routeOf(`/sitting/${id}/`)).toEqual({page: 'sitting', sitting: id});
});
