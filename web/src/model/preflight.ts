// What a device finds out about itself before a class, and what the program makes of it.

import {count, type Decoder, finite, list, nullable, oneOf, record, text} from './decode.ts';

export interface CodesRead {
  readonly checked: number;
  readonly wrong: number;
  /** By how much at most a wrong one was off. */
  readonly largest: number;
}

/** As it is sent: docs/api.md. */
export interface DeviceLook {
  readonly secure_context: boolean;
  readonly window_px: readonly [number, number];
  readonly device_pixel_ratio: number;
  readonly pinch_zoom: number;
  readonly refresh_hz: number | null;
  readonly frame_spread_ms: number | null;
  readonly dropped_frames: number | null;
  readonly colour_depth: number;
  readonly gamut: 'srgb' | 'p3' | 'rec2020';
  readonly codes: CodesRead | null;
  readonly storage: boolean;
  readonly clock_ms: number;
}

export interface Finding {
  readonly what: string;
  readonly state: 'fine' | 'note' | 'mend';
  readonly words: string;
}

export interface CheckedDevice {
  readonly device: number;
  readonly pseudonym: string;
  readonly transport: 'loopback' | 'plain' | 'tls';
  readonly state: Finding['state'];
  readonly findings: readonly Finding[];
  readonly window_px: readonly number[];
  readonly device_pixel_ratio: number;
  readonly refresh_hz: number | null;
}

export interface DeviceList {
  readonly plate_px: number;
  readonly joined: number;
  readonly devices: readonly CheckedDevice[];
  readonly intended_use: string;
}

const state = oneOf('fine', 'note', 'mend');
export const checkedDevice: Decoder<CheckedDevice> = record<CheckedDevice>({
  device: count, pseudonym: text, transport: oneOf('loopback', 'plain', 'tls'), state,
  findings: list(record<Finding>({what: text, state, words: text})),
  window_px: list(finite), device_pixel_ratio: finite, refresh_hz: nullable(finite),
});
export const deviceList: Decoder<DeviceList> = record<DeviceList>({
  plate_px: count, joined: count, devices: list(checkedDevice), intended_use: text,
});

/** Side of the square of codes that is drawn and read back. */
export const CODES_PX = 32;

/** Opaque RGBA in which every code of every channel occurs, neighbours far apart, so that smoothing shows. */
export function codesToDraw(): Uint8ClampedArray<ArrayBuffer> {
  const rgba = new Uint8ClampedArray(4 * CODES_PX * CODES_PX);
  for (let at = 0; at < CODES_PX * CODES_PX; ++at) {
    // Multipliers odd and so prime to 256: each channel goes through all codes four times.
    rgba.set([(at * 37) % 256, (at * 101 + 85) % 256, (at * 151 + 170) % 256, 255], 4 * at);
  }
  return rgba;
}

/** How what came back differs from what was drawn; opacity is left out. */
export function compareCodes(drawn: ArrayLike<number>, read: ArrayLike<number>): CodesRead {
  let checked = 0, wrong = 0, largest = 0;
  for (let at = 0; at < drawn.length; ++at) {
    if (at % 4 === 3) continue;
    const off = Math.abs(drawn[at]! - (read[at] ?? Number.POSITIVE_INFINITY));
    ++checked;
    if (off > 0) ++wrong;
    largest = Math.max(largest, Math.min(255, off));
  }
  return {checked, wrong, largest};
}

export const STATE_WORDS: {readonly [State in Finding['state']]: string} = {fine: 'fine', note: 'note', mend: 'to mend'};
/** A shape beside the word, so that a glance finds it. */
export const STATE_MARKS: {readonly [State in Finding['state']]: string} = {fine: '✓', note: '○', mend: '✕'};

export function deviceName({device}: {readonly device: number}): string {
  return device === 0 ? 'this computer' : `device ${device}`;
}
