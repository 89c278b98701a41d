// What browsers reported of the content security policy: none is expected.

import {count, type Decoder, list, record, text} from './decode.ts';
import {countText} from './words.ts';

export interface PolicyReports {
  readonly reports: number;
  readonly left_aside: number;
  readonly last: readonly {readonly directive: string; readonly blocked: string}[];
}
export const policyReports: Decoder<PolicyReports> = record<PolicyReports>({
  reports: count, left_aside: count, last: list(record<PolicyReports['last'][number]>({directive: text, blocked: text})),
});

/** "Browsers kept pages of this program from something 2 times: script-src-elem (inline), img-src (an address)."; empty for none. */
export function policyWords({reports, last}: PolicyReports): string {
  if (reports === 0) return '';
  const what = [...new Set(last.map(({directive, blocked}) => `${directive} (${blocked})`))];
  return `Browsers kept pages of this program from something ${countText(reports, 'time', 'times')}: ${what.join(', ')}.`;
}
