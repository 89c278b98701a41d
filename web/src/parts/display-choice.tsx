import type {DisplayEntry} from '../model/eye.ts';

/** Chooses the display everything is computed for; its status stands beside its name and in words below. */
export function DisplayChoice({displays, chosen, words, onChoose}: {
  readonly displays: readonly DisplayEntry[];
  readonly chosen: string;
  readonly words: string;
  readonly onChoose: (name: string) => void;
}) {
  return (
    <div class="display-choice">
      <label for="display">Display</label>
      <select id="display" value={chosen} onChange={(event) => onChoose(event.currentTarget.value)}>
        {!displays.some(({name}) => name === chosen) && <option value={chosen}>{chosen}</option>}
        {displays.map(({name, status}) => <option key={name} value={name}>{name} ({status})</option>)}
      </select>
      <p class="aside">{words}</p>
    </div>
  );
}
