// Addresses of the pages.

export type Route =
  | {readonly page: 'start' | 'join' | 'eyes' | 'display' | 'plates' | 'views' | 'collect' | 'demonstrator' | 'preflight' | 'paper'}
  | {readonly page: 'consent' | 'practical' | 'sheets'; readonly practical: string}
  | {readonly page: 'sitting'; readonly sitting: string}
  | {readonly page: 'outcome' | 'sheet'; readonly sitting: string}
  | {readonly page: 'show' | 'audience'; readonly show: string}
  | {readonly page: 'unknown'; readonly path: string};

export function routeOf(path: string): Route {
  const [, first, second, third, ...rest] = path.replace(/\/$/, '').split('/');
  if (first === undefined || first === '') return {page: 'start'};
  if ((first === 'join' || first === 'eyes' || first === 'display' || first === 'plates' || first === 'views' || first === 'collect' || first === 'demonstrator' || first === 'preflight' || first === 'paper') && second === undefined) return {page: first};
  if (rest.length === 0 && second !== undefined && /^[0-9a-f]{32}$/.test(second)) {
    if (first === 'practical' && third === undefined) return {page: 'practical', practical: second};
    if (first === 'sheets' && third === undefined) return {page: 'sheets', practical: second};
    if (first === 'sitting' && third === 'sheet') return {page: 'sheet', sitting: second};
    if (first === 'sit' && third === undefined) return {page: 'consent', practical: second};
    if (first === 'show' && third === undefined) return {page: 'show', show: second};
    if (first === 'show' && third === 'audience') return {page: 'audience', show: second};
    if (first === 'sitting' && third === undefined) return {page: 'sitting', sitting: second};
    if (first === 'sitting' && third === 'outcome') return {page: 'outcome', sitting: second};
  }
  return {page: 'unknown', path};
}

export function pathOf(route: Exclude<Route, {page: 'unknown'}>): string {
  switch (route.page) {
    case 'start':
      return '/';
    case 'join':
    case 'eyes':
    case 'display':
    case 'plates':
    case 'views':
    case 'collect':
    case 'demonstrator':
    case 'preflight':
    case 'paper':
      return `/${route.page}`;
    case 'show':
      return `/show/${route.show}`;
    case 'audience':
      return `/show/${route.show}/audience`;
    case 'practical':
      return `/practical/${route.practical}`;
    case 'sheets':
      return `/sheets/${route.practical}`;
    case 'sheet':
      return `/sitting/${route.sitting}/sheet`;
    case 'consent':
      return `/sit/${route.practical}`;
    case 'sitting':
      return `/sitting/${route.sitting}`;
    case 'outcome':
      return `/sitting/${route.sitting}/outcome`;
  }
}
