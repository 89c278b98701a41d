// Who asks, joining a class over the network, and what its instructor sees of that.

import {count, type Decoder, flag, id, list, nullable, oneOf, record, text} from './decode.ts';
import {making, type Making} from './shelf.ts';

export interface About {
  readonly role: 'instructor' | 'demonstrator' | 'participant' | 'anyone';
  readonly transport: 'loopback' | 'plain' | 'tls';
  readonly joining: 'open' | 'locked' | 'none';
  readonly device: number | null;
  /** `preflight`: devices are looked at, and there is no practical. */
  readonly serves: 'practicals' | 'preflight';
  readonly intended_use: string;
}
export const about: Decoder<About> = record<About>({
  role: oneOf('instructor', 'demonstrator', 'participant', 'anyone'), transport: oneOf('loopback', 'plain', 'tls'), joining: oneOf('open', 'locked', 'none'),
  device: nullable(count), serves: oneOf('practicals', 'preflight'), intended_use: text,
});

/** What somebody who may sit a practical needs to know of it. */
export interface OpenPractical {
  readonly id: string;
  readonly name: string;
  readonly plates: number;
  readonly exposure_ms: number;
  readonly lends: boolean;
}
export interface OpenPracticals {
  readonly practicals: readonly OpenPractical[];
  readonly intended_use: string;
}
export const openPracticals: Decoder<OpenPracticals> = record<OpenPracticals>({
  practicals: list(record<OpenPractical>({id, name: text, plates: count, exposure_ms: count, lends: flag})), intended_use: text,
});

export interface ClassNetwork {
  readonly address: string;
  readonly join_address: string;
  readonly transport: 'tls' | 'plain';
  readonly fingerprint: string | null;
  readonly closes_in_s: number;
}
export interface ClassState {
  readonly network: ClassNetwork | null;
  readonly joining: 'open' | 'locked' | 'none';
  readonly code: string | null;
  readonly devices: readonly {readonly device: number; readonly sittings: number; readonly demonstrator: boolean}[];
  readonly wrong_codes: number;
}
export const classState: Decoder<ClassState> = record<ClassState>({
  network: nullable(record<ClassNetwork>({
    address: text, join_address: text, transport: oneOf('tls', 'plain'), fingerprint: nullable(text), closes_in_s: count,
  })),
  joining: oneOf('open', 'locked', 'none'), code: nullable(text),
  devices: list(record<ClassState['devices'][number]>({device: count, sittings: count, demonstrator: flag})), wrong_codes: count,
});

/** As which displays the class's screens were checked. */
export interface ClassDisplays {
  readonly with_plates: readonly string[];
  readonly devices: readonly {readonly display: string | null; readonly devices: number; readonly has_plates: boolean}[];
  readonly making: Making | null;
}
export const classDisplays: Decoder<ClassDisplays> = record<ClassDisplays>({
  with_plates: list(text), devices: list(record<ClassDisplays['devices'][number]>({display: nullable(text), devices: count, has_plates: flag})),
  making: nullable(making),
});

/** The code behind `#` of an address somebody scanned; empty when there is none. */
export function codeIn(hash: string): string {
  return /^#[0-9A-Za-z-]{8,9}$/.test(hash) ? hash.slice(1) : '';
}
