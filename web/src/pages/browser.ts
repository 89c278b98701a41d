// What pages share of the browser: the API, ids, the storage, moving between pages, and the display's pixel ratio.

import {useEffect, useState} from 'preact/hooks';

import {createApi} from '../api/client.ts';
import {createKeep} from '../api/keep.ts';
import {randomId} from '../model/ids.ts';
import {pathOf, type Route} from '../model/route.ts';

export const api = createApi((address, init) => fetch(address, init));
export const keep = createKeep(() => window.localStorage);
export const newId = (): string => randomId((bytes) => crypto.getRandomValues(bytes));
/** Times of this page load are on one clock; this says which. */
export const pageLoad = newId();

const MOVED = 'copunctal:moved';

/** Goes to another page of the app; `replace` leaves no step back to the present one. */
export function go(route: Exclude<Route, {page: 'unknown'}>, replace = false): void {
  goToPath(pathOf(route), replace);
}

export function goToPath(path: string, replace = false): void {
  if (replace) history.replaceState(null, '', path);
  else history.pushState(null, '', path);
  window.dispatchEvent(new Event(MOVED));
}

export function usePath(): string {
  const [path, setPath] = useState(location.pathname);
  useEffect(() => {
    const moved = () => setPath(location.pathname);
    window.addEventListener(MOVED, moved);
    window.addEventListener('popstate', moved);
    return () => {
      window.removeEventListener(MOVED, moved);
      window.removeEventListener('popstate', moved);
    };
  }, []);
  return path;
}

/** Device pixels per CSS pixel and the window's size in CSS pixels; follows zoom and a move to another screen. */
export function useWindow(): {readonly pixelRatio: number; readonly widthPx: number; readonly heightPx: number} {
  const read = () => ({pixelRatio: window.devicePixelRatio, widthPx: window.innerWidth, heightPx: window.innerHeight});
  const [view, setView] = useState(read);
  useEffect(() => {
    const changed = () => setView(read());
    const media = window.matchMedia(`(resolution: ${view.pixelRatio}dppx)`);
    media.addEventListener('change', changed);
    window.addEventListener('resize', changed);
    return () => {
      media.removeEventListener('change', changed);
      window.removeEventListener('resize', changed);
    };
  }, [view.pixelRatio]);
  return view;
}

export function prefersLessMotion(): boolean {
  return window.matchMedia('(prefers-reduced-motion: reduce)').matches;
}
