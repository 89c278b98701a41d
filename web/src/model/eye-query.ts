// The state of the eye page as its address says it, so that a state can be linked.

import type {Point} from './projective.ts';
import {normalWish, observerText, type Wish, wishFrom} from './observer.ts';

export interface Asked {
  readonly wish: Wish;
  /** Null: the program's default. */
  readonly display: string | null;
  /** CIE 1931 x, y; null: the display's white. */
  readonly at: Point | null;
}

/** What the address asks for, and what of it could not be read. */
export function askedFrom(search: string): {readonly asked: Asked; readonly unread: string | null} {
  const query = new URLSearchParams(search);
  const observer = query.get('observer');
  const wish = observer === null ? normalWish : wishFrom(observer);
  const written = query.get('at');
  const at = written === null ? null : pointFrom(written);
  const unread = wish === null ? `observer “${observer ?? ''}”` : written !== null && at === null ? `point “${written}”` : null;
  return {asked: {wish: wish ?? normalWish, display: query.get('display'), at}, unread};
}

function pointFrom(written: string): Point | null {
  const [x, y, ...rest] = written.split(',').map((word) => (word.trim() === '' ? Number.NaN : Number(word)));
  if (x === undefined || y === undefined || rest.length > 0 || !Number.isFinite(x) || !Number.isFinite(y)) return null;
  return [x, y];
}

/** The query of a state, legible; empty for the state the page opens with. */
export function searchOf({wish, display, at}: Asked): string {
  const observer = observerText(wish);
  const said = [
    ...(observer === observerText(normalWish) ? [] : [`observer=${legible(observer)}`]),
    ...(display === null ? [] : [`display=${legible(display)}`]),
    ...(at === null ? [] : [`at=${at.join(',')}`]),
  ];
  return said.length === 0 ? '' : `?${said.join('&')}`;
}

/** Signs that mean nothing in a query stay as they are. */
function legible(word: string): string {
  return encodeURIComponent(word).replace(/%3A/g, ':').replace(/%2C/g, ',').replace(/%2F/g, '/').replace(/%3D/g, '=');
}
