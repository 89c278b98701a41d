import {useState} from 'preact/hooks';

import type {Trouble} from '../model/wire.ts';
import {TroubleNote} from '../parts/notes.tsx';
import {api, go} from './browser.ts';
import {PageFrame} from './frame.tsx';

/** `/collect`: back to a sitting of one's own, with the code that was shown at its end. */
export function CollectPage() {
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const code = String(new FormData(event.currentTarget as HTMLFormElement).get('code') ?? '');
    setBusy(true);
    const reply = await api.collect(code);
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) go({page: 'outcome', sitting: reply.value});
  };
  return (
    <PageFrame heading="Back to a sitting of yours" title="Collect">
      <form class="card fields" onSubmit={(event) => void submit(event)}>
        <p>Enter the code you took along when the sitting ended. It leads to that sitting alone: to be told the outcome if you still want to, or to delete everything.</p>
        <div class="field">
          <label for="collect-code">Code</label>
          <input id="collect-code" name="code" type="text" required autocomplete="off" autocapitalize="characters" spellcheck={false} maxLength={32} aria-describedby="collect-hint" />
          <p id="collect-hint" class="aside">Sixteen letters and digits; blanks, hyphens and small letters do not matter.</p>
        </div>
        <button type="submit" class="primary" disabled={busy}>Go there</button>
      </form>
      {trouble !== null && <TroubleNote trouble={trouble.status === 422 ? {...trouble, remedy: 'Look at the code again: it was shown as four groups of four.'} : trouble} />}
    </PageFrame>
  );
}
