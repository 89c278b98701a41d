import {useState} from 'preact/hooks';

import type {Reply} from '../api/client.ts';
import type {Trouble} from '../model/wire.ts';
import {TroubleNote} from './notes.tsx';

/** Credit for being there, whether one sits or not: an entry in a list that leads to no answer. */
export function Credit({onEnter}: {readonly onEnter: (entry: string) => Promise<Reply<null>>}) {
  const [state, setState] = useState<'open' | 'busy' | 'entered'>('open');
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const entry = String(new FormData(event.currentTarget as HTMLFormElement).get('entry') ?? '').trim();
    setState('busy');
    const reply = await onEnter(entry);
    setState(reply.ok ? 'entered' : 'open');
    setTrouble(reply.ok ? null : reply.trouble);
  };
  return (
    <details class="card">
      <summary>Credit for being here</summary>
      <p>
        Whoever is here may enter a name or number in a list of those present, whether they sit, off the record or not at all. The list is in the order of
        the alphabet; nothing leads from it to a sitting or an answer.
      </p>
      {state === 'entered' ? <p role="status">You are on the list.</p> : (
        <form class="fields" onSubmit={(event) => void submit(event)}>
          <div class="field"><label for="credit-entry">Name or number</label><input id="credit-entry" name="entry" type="text" maxLength={64} required autocomplete="off" /></div>
          <button type="submit" disabled={state === 'busy'}>Enter me</button>
        </form>
      )}
      {trouble !== null && <TroubleNote trouble={trouble} />}
    </details>
  );
}
