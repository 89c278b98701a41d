import {useState} from 'preact/hooks';

import type {PracticalWish} from '../api/client.ts';
import {pathOf} from '../model/route.ts';
import {secondsText} from '../model/sitting.ts';
import type {Practical} from '../model/wire.ts';
import {countText, observerName, timeText} from '../model/words.ts';

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
              {practical.course !== '' && `${practical.course}${practical.group === '' ? '' : `, ${practical.group}`} · `}
              {countText(practical.sittings, 'sitting', 'sittings')} · {practical.plates} plates of {secondsText(practical.exposure_ms)} ·
              for a display of kind {practical.display} · started {timeText(practical.created_utc)}
              {practical.state !== 'open' && ` · ${practical.state === 'closed' ? 'closed' : 'being prepared'}`}
              {practical.keep_until !== null && ` · kept until ${practical.keep_until}`}
            </p>
          </div>
          <div class="buttons">
            <a class="button" href={pathOf({page: 'practical', practical: practical.id})} aria-label={`Run it: ${practical.name}`}>Run it</a>
            {practical.state === 'open' &&
              <a class="button primary" href={pathOf({page: 'consent', practical: practical.id})} aria-label={`Sit it: ${practical.name}`}>Sit it</a>}
          </div>
        </li>
      ))}
    </ul>
  );
}

const LATENESS = [
  {policy: 'ignore', words: 'count like any other'},
  {policy: 'note', words: 'count, with a note beside them'},
  {policy: 'miss', words: 'are misses, as the stricter rules of some trades have it'},
] as const;

const LOANS: readonly string[] = ['protan:0', 'deutan:0', 'deutan:5', 'tritan'];

/** Asks for a practical's name and exposure; calls back with what was typed, and empties itself once it was taken. */
export function NewPractical({busy, onStart}: {
  readonly busy: boolean;
  readonly onStart: (wish: PracticalWish) => Promise<boolean>;
}) {
  const [isPrepared, setPrepared] = useState(false);
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const element = event.currentTarget as HTMLFormElement;
    const form = new FormData(element);
    const name = String(form.get('name') ?? '').trim();
    const seconds = String(form.get('seconds') ?? '');
    const loans = form.getAll('loan').map(String);
    const said = (field: string) => String(form.get(field) ?? '').trim();
    const lateness = (['ignore', 'note', 'miss'] as const).find((policy) => policy === said('lateness')) ?? 'ignore';
    const wish = {
      ...(name === '' ? {} : {name}), ...(seconds === '' ? {} : {exposure_ms: Math.round(1000 * Number(seconds))}), course: said('course'), group: said('group'), lateness, again: form.get('again') !== null,
      ...(said('keep') === '' ? {} : {keep_until: said('keep')}),
    };
    if (!await onStart(form.get('how') === 'prepared' ? {...wish, prepare: true, loans} : wish)) return;
    element.reset();
    setPrepared(false);
  };
  return (
    <form class="card fields" onSubmit={(event) => void submit(event)}>
      <div class="field">
        <label for="practical-name">Name <span class="aside">(may stay empty: it then gets a two-word name)</span></label>
        <input id="practical-name" name="name" type="text" maxLength={64} autocomplete="off" />
      </div>
      <div class="field">
        <label for="practical-seconds">Each plate is shown for, in seconds <span class="aside">(may stay empty)</span></label>
        <input
          id="practical-seconds" name="seconds" type="number" min={1} max={20} step={0.5}
          aria-describedby="practical-seconds-hint"
        />
        <p id="practical-seconds-hint" class="aside">Empty: 3 seconds a plate, 10 seconds a path to trace, which is common practice. From 1 to 20.</p>
      </div>
      <fieldset>
        <legend>Open it</legend>
        <div class="choice">
          <input type="radio" id="how-now" name="how" value="now" defaultChecked onChange={() => setPrepared(false)} />
          <label for="how-now">At once</label>
        </div>
        <div class="choice">
          <input type="radio" id="how-prepared" name="how" value="prepared" aria-describedby="how-hint" onChange={() => setPrepared(true)} />
          <label for="how-prepared">Later, for a class</label>
          <span id="how-hint" class="aside">With a prediction card that is sealed on opening; only then observers can be lent.</span>
        </div>
      </fieldset>
      <details>
        <summary>Course, late answers, plates once more, last day</summary>
        <div class="field">
          <label for="practical-course">Course <span class="aside">(optional)</span></label>
          <input id="practical-course" name="course" type="text" maxLength={64} autocomplete="off" />
        </div>
        <div class="field">
          <label for="practical-group">Group <span class="aside">(optional)</span></label>
          <input id="practical-group" name="group" type="text" maxLength={64} autocomplete="off" />
        </div>
        <fieldset>
          <legend>Late, hesitating and corrected answers</legend>
          {LATENESS.map(({policy, words}) => (
            <div class="choice" key={policy}>
              <input type="radio" id={`late-${policy}`} name="lateness" value={policy} defaultChecked={policy === 'ignore'} />
              <label for={`late-${policy}`}>{words}</label>
            </div>
          ))}
        </fieldset>
        <div class="choice">
          <input type="checkbox" id="practical-again" name="again" aria-describedby="again-hint" />
          <label for="practical-again">Some plates come once more at the end</label>
          <span id="again-hint" class="aside">Those missed in the first round, and as many that were read, at least two: so the class sees how far one person’s readings agree.</span>
        </div>
        <div class="field">
          <label for="practical-keep">Last day on which it is kept <span class="aside">(optional)</span></label>
          <input id="practical-keep" name="keep" type="date" aria-describedby="keep-hint" />
          <p id="keep-hint" class="aside">After it everything of the practical is removed for good when the program starts.</p>
        </div>
      </details>
      <details>
        <summary>Observers to lend, for a class</summary>
        <p class="aside">Each willing student gets one of these, or keeps own eyes, by lot. So a class finds out what a deficiency does, whoever is in it.</p>
        {!isPrepared && <p class="aside">Only where it is opened later, for a class: their plates are drawn first.</p>}
        <fieldset class="inline-choices" disabled={!isPrepared}>
          <legend class="spoken">Observers to lend</legend>
          {LOANS.map((observer) => (
            <div class="choice" key={observer}>
              <input type="checkbox" id={`loan-${observer}`} name="loan" value={observer} />
              <label for={`loan-${observer}`}>{observerName(observer)}</label>
            </div>
          ))}
        </fieldset>
      </details>
      <button type="submit" class="primary" disabled={busy}>Start a practical</button>
    </form>
  );
}
