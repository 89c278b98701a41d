import {pathOf} from '../model/route.ts';
import {secondsText} from '../model/sitting.ts';
import type {Practical} from '../model/wire.ts';
import {countText, timeText} from '../model/words.ts';

/** The practicals there are, newest first as the server gives them, each with the way in. */
export function PracticalList({practicals}: {readonly practicals: readonly Practical[]}) {
  if (practicals.length === 0) return <p>There is none yet. Start the first one below.</p>;
  return (
    <ul class="practicals">
      {practicals.map((practical) => (
        <li key={practical.id} class="card">
          <div>
            <h3>{practical.name}</h3>
            <p class="aside">
              {countText(practical.sittings, 'sitting', 'sittings')} · {practical.plates} plates of {secondsText(practical.exposure_ms)} ·
              for a display of kind {practical.display} · started {timeText(practical.created_utc)}
            </p>
          </div>
          <a class="button primary" href={pathOf({page: 'consent', practical: practical.id})} aria-label={`Sit it: ${practical.name}`}>Sit it</a>
        </li>
      ))}
    </ul>
  );
}

/** Asks for a practical's name and exposure; calls back with what was typed, and empties itself once it was taken. */
export function NewPractical({busy, onStart}: {
  readonly busy: boolean;
  readonly onStart: (wish: {readonly name?: string; readonly exposure_ms: number}) => Promise<boolean>;
}) {
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const element = event.currentTarget as HTMLFormElement;
    const form = new FormData(element);
    const name = String(form.get('name') ?? '').trim();
    const exposureMs = Math.round(1000 * Number(form.get('seconds')));
    if (await onStart({...(name === '' ? {} : {name}), exposure_ms: exposureMs})) element.reset();
  };
  return (
    <form class="card fields" onSubmit={(event) => void submit(event)}>
      <div class="field">
        <label for="practical-name">Name <span class="aside">(may stay empty: it then gets a two-word name)</span></label>
        <input id="practical-name" name="name" type="text" maxLength={64} autocomplete="off" />
      </div>
      <div class="field">
        <label for="practical-seconds">Each plate is shown for, in seconds</label>
        <input
          id="practical-seconds" name="seconds" type="number" min={1} max={20} step={0.5} defaultValue="3" required
          aria-describedby="practical-seconds-hint"
        />
        <p id="practical-seconds-hint" class="aside">3 seconds is common practice for digits. From 1 to 20.</p>
      </div>
      <button type="submit" class="primary" disabled={busy}>Start a practical</button>
    </form>
  );
}
