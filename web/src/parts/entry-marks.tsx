import type {Entry} from '../model/entry.ts';
import {CORRECTED_KEY, HESITATED_KEY, LATE_KEY} from '../model/keys.ts';

const MARKS = [
  {does: 'hesitated', key: HESITATED_KEY, words: 'hesitated'},
  {does: 'corrected', key: CORRECTED_KEY, words: 'corrected: enter the new word'},
  {does: 'late', key: LATE_KEY, words: 'said after the plate had gone'},
] as const;

/** What an examiner notes beside what was said. */
export function EntryMarks({entry, open, onMark}: {
  readonly entry: Entry;
  readonly open: boolean;
  readonly onMark: (does: 'hesitated' | 'corrected' | 'late', atMs: number) => void;
}) {
  const isOn = {hesitated: entry.hesitated, corrected: entry.first !== null, late: entry.late};
  return (
    <div class="entry-marks" role="group" aria-label="How it was said">
      {MARKS.map(({does, key, words}) => (
        <button key={does} type="button" class="quiet" disabled={!open} aria-pressed={isOn[does]} aria-keyshortcuts={key}
          onMouseDown={(event) => event.preventDefault()} onClick={(event) => onMark(does, event.timeStamp)}>
          <span>{isOn[does] ? '✓ ' : ''}{words}</span> <span class="key">key {key}</span>
        </button>
      ))}
    </div>
  );
}
