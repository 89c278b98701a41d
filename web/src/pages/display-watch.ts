// The current record of the screen, and the watch over what it holds for: a change of zoom, screen or mode ends it.

import {useEffect, useState} from 'preact/hooks';

import type {DisplayRecord} from '../model/display-record.ts';
import {endReason, type Surroundings} from '../model/surroundings.ts';
import type {Trouble} from '../model/wire.ts';
import type {ScreenKnowledge} from '../parts/display-status.tsx';
import {api, keep} from './browser.ts';

/** Where this browser remembers the record it made: only then can it tell that the screen has changed. */
const OWN_RECORD = 'copunctal.display-record';
/** A window taken to another screen sends no event everywhere, so it is looked at, too. */
const LOOK_MS = 2000;

export function readSurroundings(): Surroundings {
  // `availLeft` and `availTop` are in every browser, but in no standard.
  const place = screen as Screen & {readonly availLeft?: number; readonly availTop?: number};
  const covers = (gamut: string) => window.matchMedia(`(color-gamut: ${gamut})`).matches;
  return {
    device_pixel_ratio: window.devicePixelRatio, screen_px: [screen.width, screen.height], screen_at: [place.availLeft ?? 0, place.availTop ?? 0],
    colour_depth: screen.colorDepth, gamut: covers('rec2020') ? 'rec2020' : covers('p3') ? 'p3' : 'srgb',
  };
}

/** Calls back when something of the screen may have changed, and every now and then. */
function onScreenChange(look: () => void): () => void {
  const medias = ['(color-gamut: p3)', '(color-gamut: rec2020)', `(resolution: ${window.devicePixelRatio}dppx)`].map((query) => window.matchMedia(query));
  for (const media of medias) media.addEventListener('change', look);
  window.addEventListener('resize', look);
  const timer = setInterval(look, LOOK_MS);
  return () => {
    for (const media of medias) media.removeEventListener('change', look);
    window.removeEventListener('resize', look);
    clearInterval(timer);
  };
}

/** The current record, watched while the page stands; `made` takes one that was just made here. */
export function useScreen(): ScreenKnowledge & {readonly made: (record: DisplayRecord) => void} {
  const [current, setCurrent] = useState<DisplayRecord | null>(null);
  const [known, setKnown] = useState(false);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const here = current !== null && keep.read(OWN_RECORD) === current.record;

  useEffect(() => {
    void api.currentRecord().then((reply) => {
      setTrouble(reply.ok ? null : reply.trouble);
      if (!reply.ok) return;
      setKnown(true);
      setCurrent(reply.value);
    });
  }, []);

  useEffect(() => {
    if (current === null || !here || !current.valid) return;
    let ending = false;
    const look = async () => {
      const reason = endReason(current.asked, readSurroundings());
      if (reason === null || ending) return;
      ending = true;
      const reply = await api.endRecord(current.record, reason);
      ending = false;
      if (reply.ok) setCurrent(reply.value);
    };
    void look();
    return onScreenChange(() => void look());
  }, [current, here]);

  return {
    known, current, here, trouble,
    made: (record) => {
      keep.write(OWN_RECORD, record.record);
      setKnown(true);
      setTrouble(null);
      setCurrent(record);
    },
  };
}
