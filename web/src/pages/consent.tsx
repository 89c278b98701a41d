import {useEffect, useState} from 'preact/hooks';

import {secondsText} from '../model/sitting.ts';
import type {OpenPractical} from '../model/join.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence} from '../model/words.ts';
import {type Consent, ConsentForm} from '../parts/consent-form.tsx';
import {Credit} from '../parts/credit.tsx';
import {DisplayStatus} from '../parts/display-status.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api, go} from './browser.ts';
import {useScreen} from './display-watch.ts';
import {PageFrame} from './frame.tsx';

/** `/sit/:practical`: what will happen, consent, and the choice to be told or not. */
export function ConsentPage({practicalId}: {readonly practicalId: string}) {
  const [practical, setPractical] = useState<OpenPractical | null>(null);
  const [use, setUse] = useState('');
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const screen = useScreen();

  async function load(): Promise<void> {
    const reply = await api.openPracticals();
    if (!reply.ok) return setTrouble(reply.trouble);
    setUse(reply.value.intended_use);
    const found = reply.value.practicals.find((candidate) => candidate.id === practicalId);
    setPractical(found ?? null);
    setTrouble(found === undefined ? noSuchPractical(practicalId) : null);
  }

  async function begin(consent: Consent): Promise<void> {
    setBusy(true);
    const reply = await api.startSitting(practicalId, consent);
    setBusy(false);
    if (reply.ok) go({page: 'sitting', sitting: reply.value.sitting});
    else setTrouble(reply.trouble);
  }

  useEffect(() => void load(), [practicalId]);

  return (
    <PageFrame heading={practical === null ? 'Before you sit' : `Before you sit “${practical.name}”`} title="Before you sit">
      {practical !== null && (
        <>
          <section class="card prose" aria-label="What happens">
            <p>
              You will see up to {practical.plates} plates made of pebbles, each for {secondsText(practical.exposure_ms)}, and answer
              which symbol you see in it, if any. It takes a few minutes and needs nothing but this screen and a keyboard, a mouse or
              a finger. Wear your usual glasses, and take off tinted ones.
            </p>
            <p>
              This is for teaching. Unless you choose otherwise below, your answers are stored on the computer that runs this practical,
              under a random number and two words. No name is asked for or kept.
            </p>
            <p>
              You may stop at any time, and you may delete the sitting and its answers at any time. Afterwards, too: the address of
              the sitting’s page brings you back to it.
            </p>
          </section>
          <CautionNote label="What this is for" lines={[asSentence(use)]} />
          <DisplayStatus screen={screen} />
          <Credit onEnter={(entry) => api.takePart(practicalId, entry)} />
          <ConsentForm busy={busy} lends={practical.lends} onConsent={(consent) => void begin(consent)} />
        </>
      )}
      {practical === null && trouble === null && <p>Loading…</p>}
      {practical === null && trouble !== null && <p><a class="button" href="/">To what can be sat</a></p>}
      {trouble && <TroubleNote trouble={trouble} {...(practical === null ? {onRetry: () => void load()} : {})} />}
    </PageFrame>
  );
}

function noSuchPractical(practicalId: string): Trouble {
  return {
    status: 404, code: 'not_found', thing: 'practical', place: `/sit/${practicalId}`, retryAfterMs: null,
    message: 'There is no open practical at this address.', remedy: 'Choose one on the start page, or ask whoever runs it.',
  };
}
