import {useState} from 'preact/hooks';

import type {Reply} from '../api/client.ts';
import type {Trouble} from '../model/wire.ts';
import {TroubleNote} from './notes.tsx';

/** A code to come back with, from any device; made when it is asked for. */
export function CollectCode({onMake}: {readonly onMake: () => Promise<Reply<string>>}) {
  const [code, setCode] = useState<string | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const make = async () => {
    const reply = await onMake();
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setCode(reply.value);
  };
  return (
    <section class="card prose" aria-label="A code to come back with">
      <p>To come back from another device, or when this browser has forgotten: take a code along. Enter it at <a href="/collect">Back to a sitting of yours</a>.</p>
      {code !== null && <p role="status">Your code: <strong class="class-code">{code.match(/.{4}/g)!.join('-')}</strong>. It is shown this once.</p>}
      <button type="button" onClick={() => void make()}>{code === null ? 'Give me a code' : 'Another code, in place of this one'}</button>
      {trouble !== null && <TroubleNote trouble={trouble} />}
    </section>
  );
}
