import {useEffect, useState} from 'preact/hooks';

import {type About, codeIn} from '../model/join.ts';
import {pathOf} from '../model/route.ts';
import {secondsText} from '../model/sitting.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence} from '../model/words.ts';
import {CodeForm} from '../parts/code-form.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api, go} from './browser.ts';
import {PageFrame} from './frame.tsx';
import {ShowAnswer} from './show-answer.tsx';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 5000;

/** `/join`: for a device of the class. The code first, then what can be sat. */
export function JoinPage() {
  const [about, setAbout] = useState<About | null>(null);
  const mayAsk = about !== null && about.role !== 'anyone' && about.serves === 'practicals';
  const {value: open, trouble: notAsked, again} = useEvery(mayAsk ? ASK_AGAIN_MS : null, api.openPracticals);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);

  async function load(): Promise<void> {
    const reply = await api.about();
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return;
    setAbout(reply.value);
    if (reply.value.role !== 'anyone' && reply.value.serves === 'preflight') go({page: 'preflight'}, true);
  }
  async function join(code: string): Promise<void> {
    setBusy(true);
    const reply = await api.join(code);
    setBusy(false);
    // The code need not stay in the address.
    if (reply.ok) history.replaceState(null, '', '/join');
    await load();
    if (!reply.ok) setTrouble(reply.trouble);
  }
  useEffect(() => {
    const scanned = codeIn(location.hash);
    void (scanned === '' ? load() : join(scanned));
  }, []);

  const shown = trouble ?? notAsked;
  return (
    <PageFrame heading="Join the class" title="Join">
      {shown !== null && <TroubleNote trouble={shown} />}
      {about === null ? shown === null && <p>Loading…</p> : <>
        {about.transport === 'plain' && (
          <div class="note">
            <p><strong>What you send here is not encrypted.</strong> Others on this network could read your answers. No name is asked for: give none.</p>
          </div>
        )}
        {about.role === 'anyone' && <CodeForm busy={busy} locked={about.joining !== 'open'} onJoin={(code) => void join(code)} />}
        {about.role === 'demonstrator' && <p><a class="button primary" href={pathOf({page: 'demonstrator'})}>To what you may run</a></p>}
        {open !== null && <ShowAnswer />}
        {open !== null && (
          <section aria-labelledby="open">
            <h2 id="open">What can be sat now</h2>
            {open.practicals.length === 0
              ? <p>Nothing is open yet. What is opened appears here. <button type="button" onClick={again}>Look again</button></p>
              : <ul class="practicals">
                  {open.practicals.map((practical) => (
                    <li key={practical.id} class="card">
                      <div>
                        <h3>{practical.name}</h3>
                        <p class="aside">{practical.plates} plates of {secondsText(practical.exposure_ms)}</p>
                      </div>
                      <a class="button primary" href={pathOf({page: 'consent', practical: practical.id})} aria-label={`Sit it: ${practical.name}`}>Sit it</a>
                    </li>
                  ))}
                </ul>}
            <p><a class="alone" href={pathOf({page: 'preflight'})}>Is this device ready?</a></p>
            <p><a class="alone" href={pathOf({page: 'collect'})}>Back to a sitting of yours, with its code</a></p>
          </section>
        )}
        <CautionNote label="What this is for" lines={[asSentence(about.intended_use)]} />
      </>}
    </PageFrame>
  );
}
