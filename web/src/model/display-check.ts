// A check of the screen without instruments: its steps, what has been found, and what is sent. Every step may be skipped,
// and what was not done stays said.

import type {Channel, DisplayCheck, RoomLight, Share, ToneMatch} from './display-record.ts';
import type {FrameStatistics} from './frames.ts';
import type {Surroundings} from './surroundings.ts';

export type Step = 'size' | 'tone' | 'black' | 'white' | 'neutral' | 'room' | 'refresh' | 'send';
export const STEPS: readonly Step[] = ['size', 'tone', 'black', 'white', 'neutral', 'room', 'refresh', 'send'];
export const STEP_NAMES: {readonly [Of in Step]: string} = {
  size: 'Size', tone: 'Tone curve', black: 'Black steps', white: 'White steps', neutral: 'Neutral greys', room: 'Room and settings', refresh: 'Refresh rate',
  send: 'Result',
};

export interface Found {
  /** CSS pixels of a card's long side. */
  readonly cardPx: number | null;
  readonly toneMatches: readonly ToneMatch[];
  readonly blackStep: number | null;
  readonly whiteStep: number | null;
  readonly neutral: 'neutral' | 'tinted' | null;
  readonly nightModeOff: boolean;
  readonly adapted: boolean;
  readonly roomLight: RoomLight | null;
  readonly statement: string;
  readonly frames: FrameStatistics | null;
}

export const nothingFound: Found = {
  cardPx: null, toneMatches: [], blackStep: null, whiteStep: null, neutral: null, nightModeOff: false, adapted: false, roomLight: null, statement: '', frames: null,
};

/** A card of format ID-1, ISO/IEC 7810. */
export const CARD_MM = {long: 85.6, short: 53.98};
/** At 96 CSS pixels an inch, where the outline begins; real screens differ, which is what is being found out. */
export const CARD_START_PX = 323.5;
export const CARD_LEAST_PX = 150;
export const CARD_MOST_PX = 900;
export const STATEMENT_MOST = 200;

export function cardWithin(px: number): number {
  return Math.min(CARD_MOST_PX, Math.max(CARD_LEAST_PX, Math.round(2 * px) / 2));
}

export const CHANNEL_NAMES: {readonly [Of in Channel]: string} = {r: 'red', g: 'green', b: 'blue'};
export const SHARE_NAMES: {readonly [Of in Share]: string} = {0.25: 'one line of four', 0.5: 'every other line', 0.75: 'three lines of four'};

/** The nine comparisons, in the order they are asked. */
export const TONE_TASKS: readonly {readonly channel: Channel; readonly share: Share}[] =
  (['r', 'g', 'b'] as const).flatMap((channel) => ([0.5, 0.25, 0.75] as const).map((share) => ({channel, share})));

export function withMatch(found: Found, match: ToneMatch): Found {
  const others = found.toneMatches.filter(({channel, share}) => channel !== match.channel || share !== match.share);
  return {...found, toneMatches: [...others, match]};
}

/** After a change of zoom, size and rasters were measured in pixels that no longer are; the rest still holds. */
export function afterZoom(found: Found): Found {
  return {...found, cardPx: null, toneMatches: []};
}

/** What has been found in a step, in words; "not done" is an answer too. */
export function foundWords(step: Step, found: Found): string {
  const NOT_DONE = 'not done';
  switch (step) {
    case 'size':
      return found.cardPx === null ? NOT_DONE : `card ${found.cardPx} px long`;
    case 'tone':
      return found.toneMatches.length === 0 ? NOT_DONE : `${found.toneMatches.length} of ${TONE_TASKS.length} compared`;
    case 'black':
      return found.blackStep === null ? NOT_DONE : `code ${found.blackStep} is the first seen`;
    case 'white':
      return found.whiteStep === null ? NOT_DONE : `code ${found.whiteStep} is the first seen`;
    case 'neutral':
      return found.neutral ?? NOT_DONE;
    case 'room': {
      const said = [found.nightModeOff ? 'night mode off' : '', found.adapted ? 'adapted' : '', found.roomLight === null ? '' : `light: ${found.roomLight}`];
      return said.filter((words) => words !== '').join(', ') || NOT_DONE;
    }
    case 'refresh':
      return found.frames === null ? NOT_DONE : framesWords(found.frames);
    case 'send':
      return '';
  }
}

export function framesWords({refreshHz, spreadMs, dropped}: FrameStatistics): string {
  return `${refreshHz.toFixed(1)} Hz, frames vary by ${spreadMs.toFixed(1)} ms, ${dropped} dropped`;
}

/** What is sent. */
export function checkFrom(found: Found, display: string, surroundings: Surroundings): DisplayCheck {
  return {
    display, card_px: found.cardPx, device_pixel_ratio: surroundings.device_pixel_ratio, screen_px: surroundings.screen_px,
    screen_at: surroundings.screen_at, colour_depth: surroundings.colour_depth, gamut: surroundings.gamut, tone_matches: found.toneMatches,
    black_step: found.blackStep, white_step: found.whiteStep, neutral: found.neutral, night_mode_off: found.nightModeOff, adapted: found.adapted,
    room_light: found.roomLight, statement: found.statement.trim().slice(0, STATEMENT_MOST), refresh_hz: found.frames?.refreshHz ?? null,
    frame_spread_ms: found.frames?.spreadMs ?? null, dropped_frames: found.frames?.dropped ?? null,
  };
}
