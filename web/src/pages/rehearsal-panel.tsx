import {useState} from 'preact/hooks';

import {inventedWords, rehearsal, rehearsalWords} from '../model/rehearsal.ts';
import type {Trouble} from '../model/wire.ts';
import {NumberField} from '../parts/number-field.tsx';
import {TroubleNote} from '../parts/notes.tsx';
import {api} from './browser.ts';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 2000;

/** Above every page of a rehearsal: what it is, how far the class is, and its end. */
export function InventedBanner() {
  const words = inventedWords(document.documentElement);
  const [isOver, setOver] = useState(false);
  const state = useEvery(words === null || isOver ? null : ASK_AGAIN_MS, askForIt).value?.rehearsal ?? null;
  if (words === null) return null;
  return (
    <aside class="invented" aria-label="Rehearsal">
      <p><strong>{words}</strong>{isOver ? ' It is over, and nothing of it is left. Close this window.' : state !== null && ` ${rehearsalWords(state)}`}</p>
      {!isOver && <button type="button" onClick={() => void endRehearsal().then(setOver)}>End it and remove it</button>}
    </aside>
  );
}

const askForIt = () => api.get('/api/rehearsal', rehearsal);

async function endRehearsal(): Promise<boolean> {
  const reply = await api.change('DELETE', '/api/rehearsal', {}, rehearsal);
  // Not reached: it is gone already.
  return reply.ok || reply.trouble.status === 0;
}

/** On the page of a practical: one rehearsal beside it, which touches nothing of it. */
export function RehearsalPanel() {
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const [people, setPeople] = useState(30);
  const [seed, setSeed] = useState(1);
  const isInvented = inventedWords(document.documentElement) !== null;
  const asked = useEvery(isInvented ? null : ASK_AGAIN_MS, askForIt, {asLongAs: (last) => last.rehearsal !== null});
  const state = asked.value?.rehearsal ?? null;

  async function begin(): Promise<void> {
    setBusy(true);
    const reply = await api.change('POST', '/api/rehearsal', {people, seed, lasts_s: Math.min(60, 2 * people)}, rehearsal);
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) asked.put(reply.value);
  }
  async function end(): Promise<void> {
    setBusy(true);
    if (await endRehearsal()) asked.put({rehearsal: null, words: ''});
    setBusy(false);
  }
  if (isInvented) return null;
  return (
    <section aria-labelledby="rehearsal">
      <h2 id="rehearsal">Rehearse</h2>
      {trouble !== null && <TroubleNote trouble={trouble} />}
      <div class="card fields">
        <p>
          An invented class sits a practical of its own, beside this one: two come late, one does not consent, one is off the record, and the
          network fails for a while. You open, watch, close and debrief it as on the day. It touches nothing here, and ending it removes every byte.
        </p>
        {state === null ? <>
          <NumberField label="Invented people" unit="" value={people} least={6} most={300} step={1} onValue={(value) => setPeople(Math.round(value ?? 30))} />
          <NumberField label="Seed of the class" unit="" value={seed} least={0} most={1_000_000} step={1} onValue={(value) => setSeed(Math.round(value ?? 1))} />
          <div class="buttons"><button type="button" disabled={busy} onClick={() => void begin()}>Rehearse with an invented class</button></div>
        </> : <>
          <p role="status">{rehearsalWords(state)}</p>
          <div class="buttons">
            <a class="button primary" href={state.address} target="_blank" rel="noopener">To the rehearsal, in a window of its own</a>
            <button type="button" disabled={busy} onClick={() => void end()}>End it and remove it</button>
          </div>
        </>}
      </div>
    </section>
  );
}
