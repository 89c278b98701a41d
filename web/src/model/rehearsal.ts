// A rehearsal: an invented class in a practical that leaves nothing behind.

import {count, type Decoder, id, nullable, record, text} from './decode.ts';
import {countText} from './words.ts';

export interface RehearsalReport {
  readonly people: number;
  readonly sittings: number;
  readonly ended: number;
  readonly off_record: number;
  readonly answers: number;
  readonly queued: number;
}

export interface Rehearsal {
  readonly stage: string;
  readonly address: string;
  readonly practical: string;
  readonly people: number;
  readonly seed: number;
  readonly report: RehearsalReport;
  readonly trouble: string | null;
}

export const rehearsal: Decoder<{readonly rehearsal: Rehearsal | null; readonly words: string}> = record({
  rehearsal: nullable(record<Rehearsal>({
    stage: text, address: text, practical: id, people: count, seed: count,
    report: record<RehearsalReport>({people: count, sittings: count, ended: count, off_record: count, answers: count, queued: count}), trouble: nullable(text),
  })),
  words: text,
});

/** "It plays: 27 of 30 invented people have begun, 12 are through, 340 answers." */
export function rehearsalWords({stage, people, report, trouble}: Rehearsal): string {
  const unseen = report.off_record === 0 ? '' : ` (${report.off_record} off the record, counted nowhere else)`;
  const done = `${report.sittings} of ${countText(people, 'invented person', 'invented people')} have begun${unseen}, ${report.ended} are through; ${countText(report.answers, 'answer', 'answers')}`;
  return `It ${stage}: ${done}.${trouble === null ? '' : ` ${trouble}`}`;
}

/** What the program says of a page that belongs to a rehearsal; null on the day. */
export function inventedWords(page: {readonly dataset: DOMStringMap}): string | null {
  return page.dataset['invented'] ?? null;
}
