import {useState} from 'preact/hooks';

import {type Making, makingWords} from '../model/shelf.ts';
import type {Trouble} from '../model/wire.ts';
import {TroubleNote} from '../parts/notes.tsx';
import {api} from './browser.ts';

/** Plates for a display that some of the class's screens were checked as. */
export function MakeFor({display, making}: {readonly display: string; readonly making: Making | null}) {
  const [asked, setAsked] = useState(false);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const isIts = making !== null && making.display === display && making.purpose === 'practical';
  async function make(): Promise<void> {
    setAsked(true);
    const reply = await api.makeForDisplay(display);
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) setAsked(false);
  }
  if (isIts && (making.state === 'making' || making.state === 'failed'))
    return <span role={making.state === 'failed' ? 'alert' : 'status'}>{makingWords(making)}</span>;
  return (
    <>
      <button type="button" disabled={asked && making?.state !== 'stopped'} onClick={() => void make()}>Make plates for {display}</button>
      {trouble !== null && <TroubleNote trouble={trouble} />}
    </>
  );
}
