// The record of a check of the screen, spelt as docs/api.md spells it, with a decoder beside each type.

import {count, type Decoder, finite, flag, id, list, nullable, oneOf, record, text, Unreadable} from './decode.ts';
import {type DisplayStatus, displayStatus} from './eye.ts';
import type {Surroundings} from './surroundings.ts';
import {timeText} from './words.ts';

export type Channel = 'r' | 'g' | 'b';
export type Share = 0.25 | 0.5 | 0.75;
export type RoomLight = 'dim' | 'office' | 'bright';

export interface ToneMatch {
  readonly channel: Channel;
  /** Share of the lines that are full on. */
  readonly share: Share;
  readonly code: number;
}

/** What is sent; null and false: not done. */
export interface DisplayCheck extends Surroundings {
  readonly display: string;
  readonly card_px: number | null;
  readonly tone_matches: readonly ToneMatch[];
  readonly black_step: number | null;
  readonly white_step: number | null;
  readonly neutral: 'neutral' | 'tinted' | null;
  readonly night_mode_off: boolean;
  readonly adapted: boolean;
  readonly room_light: RoomLight | null;
  readonly statement: string;
  readonly refresh_hz: number | null;
  readonly frame_spread_ms: number | null;
  readonly dropped_frames: number | null;
}

export type EndReason = 'zoom' | 'moved' | 'mode';

export interface Finding {
  readonly what: string;
  readonly state: 'fine' | 'note' | 'mend';
  readonly words: string;
}

export interface ChannelTone {
  readonly gamma: number;
  readonly rms_codes: number;
}

export interface DisplayRecord {
  readonly record: string;
  readonly made_utc: string;
  readonly expires_utc: string;
  readonly valid: boolean;
  readonly ended: EndReason | 'expired' | 'replaced' | null;
  readonly status: DisplayStatus;
  readonly words: string;
  readonly pixels_per_mm: number | null;
  readonly tone: {readonly r: ChannelTone | null; readonly g: ChannelTone | null; readonly b: ChannelTone | null} | null;
  readonly findings: readonly Finding[];
  readonly asked: Surroundings & {readonly display: string};
  readonly intended_use: string;
}

const pair: Decoder<readonly [number, number]> = (value, place) => {
  const found = list(finite)(value, place);
  if (found.length !== 2) throw new Unreadable(place, '2 numbers');
  return [found[0]!, found[1]!];
};
/** A channel that was not matched may be missing. */
const channelTone: Decoder<ChannelTone | null> = (value, place) =>
  (value === null || value === undefined ? null : record<ChannelTone>({gamma: finite, rms_codes: finite})(value, place));

export const displayRecord: Decoder<DisplayRecord> = record<DisplayRecord>({
  record: id, made_utc: text, expires_utc: text, valid: flag,
  ended: nullable(oneOf('zoom', 'moved', 'mode', 'expired', 'replaced')), status: displayStatus, words: text,
  pixels_per_mm: nullable(finite),
  tone: nullable(record<NonNullable<DisplayRecord['tone']>>({r: channelTone, g: channelTone, b: channelTone})),
  findings: list(record<Finding>({what: text, state: oneOf('fine', 'note', 'mend'), words: text})),
  asked: record<DisplayRecord['asked']>({
    display: text, device_pixel_ratio: finite, screen_px: pair, screen_at: pair, colour_depth: count, gamut: oneOf('srgb', 'p3', 'rec2020'),
  }),
  intended_use: text,
});

export const currentRecord = record<{current: DisplayRecord | null}>({current: nullable(displayRecord)});

const ENDED: {readonly [Of in NonNullable<DisplayRecord['ended']>]: string} = {
  zoom: 'it ended when the page was zoomed',
  moved: 'it ended when the window went to another screen',
  mode: 'it ended when the screen’s mode or colours changed',
  expired: 'it is more than 30 days old',
  replaced: 'another check took its place',
};

/** What every page that uses the screen says of it. `here`: whether the check was made in this browser. */
export function statusWords(current: DisplayRecord | null, here: boolean): string {
  if (current === null) return 'assumed, not checked.';
  if (current.ended !== null) return `assumed. A check of it was made, but ${ENDED[current.ended]}.`;
  if (!current.valid) return 'assumed. The check of it no longer holds.';
  const words = /[.!?]$/.test(current.words) ? current.words : `${current.words}.`;
  return here ? words : `${words} This was checked in another browser; what stands in front of you may differ.`;
}

/** What ends a record, with its last day. */
export function whatEnds(current: DisplayRecord): string {
  return `It holds until ${timeText(current.expires_utc)}, and ends earlier when the page is zoomed, when the window goes to another screen, or when the screen’s resolution, colour depth or gamut changes.`;
}

/** Word and mark of a finding: told apart by shape and by word. */
export const FINDING: {readonly [Of in Finding['state']]: {readonly mark: string; readonly word: string}} = {
  fine: {mark: '○', word: 'fine'}, note: {mark: '△', word: 'note'}, mend: {mark: '■', word: 'mend'},
};
