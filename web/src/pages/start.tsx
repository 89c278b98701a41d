import {useEffect, useRef, useState} from 'preact/hooks';

import type {PracticalWish} from '../api/client.ts';
import {DisplayStatus} from '../parts/display-status.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {NewPractical, PracticalList} from '../parts/practical-list.tsx';
import {asSentence, intendedUse} from '../model/words.ts';
import type {Practical, Trouble} from '../model/wire.ts';
import {api, go} from './browser.ts';
import {useScreen} from './display-watch.ts';
import {PageFrame} from './frame.tsx';
import {PolicyNote} from './policy-note.tsx';

/** `/`: what this is, the practicals there are, and starting one. */
export function StartPage() {
  const [practicals, setPracticals] = useState<readonly Practical[] | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const [news, setNews] = useState('');
  const newsLine = useRef<HTMLParagraphElement>(null);
  const screen = useScreen();

  async function load(): Promise<void> {
    const reply = await api.practicals();
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setPracticals(reply.value);
  }

  async function start(wish: PracticalWish): Promise<boolean> {
    setBusy(true);
    const reply = await api.startPractical(wish);
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return false;
    setNews(`Practical “${reply.value.name}” is ${reply.value.state === 'preparing' ? 'being prepared: run it to open it' : 'ready'}.`);
    await load();
    return true;
  }

  // The form stands below the list: what it brought about should not happen out of sight.
  useEffect(() => {
    if (news !== '') newsLine.current?.scrollIntoView({block: 'center'});
  }, [news, practicals]);
  useEffect(() => {
    // What is here is for whoever runs practicals; the class's devices have a page of their own.
    void api.about().then((reply) => {
      if (reply.ok && reply.value.role !== 'instructor') go({page: reply.value.role === 'demonstrator' ? 'demonstrator' : 'join'}, true);
      else if (reply.ok && reply.value.serves === 'preflight') go({page: 'preflight'}, true);
      else void load();
    });
  }, []);

  return (
    <PageFrame heading="A practical on colour vision" title="Start">
      <p class="lead">
        Copunctal shows a class plates made of pebbles, computed for this display, and keeps who read what. Afterwards it
        says which observers fit the answers best, with the uncertainty, and shows each plate as another eye gets it.
      </p>
      <CautionNote label="What this is for" lines={[asSentence(intendedUse(practicals ?? []))]} />
      <DisplayStatus screen={screen} />
      <PolicyNote />
      {trouble && <TroubleNote trouble={trouble} onRetry={() => void load()} />}
      <section aria-labelledby="practicals">
        <h2 id="practicals">Practicals</h2>
        <p ref={newsLine} role="status" class="news">{news}</p>
        {practicals === null ? trouble === null && <p>Loading…</p> : <PracticalList practicals={practicals} />}
      </section>
      <section aria-labelledby="new-practical">
        <h2 id="new-practical">Start a practical</h2>
        <NewPractical busy={busy} onStart={start} />
      </section>
      <section aria-labelledby="more">
        <h2 id="more">Beside a practical</h2>
        <ul class="ways">
          <li><a href="/views">Views</a>: a picture of yours through other eyes, with the error of the claim.</li>
          <li><a href="/plates">Plates</a>: make a set for a display, and see who reads each plate.</li>
          <li><a href="/paper">On paper</a>: an answer sheet to print, and filled ones scored.</li>
          <li><a href="/eyes">An eye by its cone curves</a>: choose an observer, and see what it confuses.</li>
          <li><a href="/preflight">Devices of the room</a>: do they reach this computer, and can they show a plate?</li>
          <li><a href="/display">The screen in front of you</a>: check it without instruments.</li>
        </ul>
      </section>
    </PageFrame>
  );
}
