import {type DisplayRecord, statusWords} from '../model/display-record.ts';
import type {Trouble} from '../model/wire.ts';

/** What is known of the current record of the screen; `known` false until the program has said. */
export interface ScreenKnowledge {
  readonly known: boolean;
  readonly current: DisplayRecord | null;
  /** Whether this browser made the record. */
  readonly here: boolean;
  readonly trouble: Trouble | null;
}

/** One line on every page that relies on the screen: what is assumed of it, and where it can be checked. */
export function DisplayStatus({screen: {known, current, here, trouble}, checking = false}: {
  readonly screen: ScreenKnowledge;
  /** On the page of the check itself, which need not be pointed to. */
  readonly checking?: boolean;
}) {
  if (trouble !== null) return <p class="display-status">Screen: its record could not be read. {trouble.message} {trouble.remedy}</p>;
  return (
    <p class="display-status">
      Screen: {known ? statusWords(current, here) : '…'}{' '}
      {known && !checking && <a href="/display">Check&nbsp;it</a>}
    </p>
  );
}
