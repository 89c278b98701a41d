import {useEffect, useState} from 'preact/hooks';

import {phoneShow} from '../model/show.ts';
import {rowOf, symbolName} from '../model/symbols.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence} from '../model/words.ts';
import {AnswerRow} from '../parts/answer-row.tsx';
import {TroubleNote} from '../parts/notes.tsx';
import {api} from './browser.ts';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 1000;

/** On a phone that has joined, while plates are shown: the row for the plate on the wall. Nothing where there is no show. */
export function ShowAnswer() {
  const {value, put} = useEvery(ASK_AGAIN_MS, () => api.get('/api/show', phoneShow));
  const now = value?.show ?? null;
  const [chosen, setChosen] = useState<readonly string[]>([]);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const at = now === null ? '' : `${now.id} ${now.place}`;
  useEffect(() => {
    setChosen([]);
    setTrouble(null);
  }, [at]);
  if (now === null) return null;

  const send = async (symbols: readonly string[]) => {
    const reply = await api.change('PUT', '/api/show/answer', {place: now.place, symbols: [...symbols].sort()}, phoneShow);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) put(reply.value);
  };
  const toggle = (symbol: string) => {
    if (now.figures === 1) return void send([symbol]);
    setChosen((before) => (before.includes(symbol) ? before.filter((one) => one !== symbol) : [...before, symbol].slice(-2)));
  };
  const mine = now.mine === null ? null : now.mine.length === 0 ? 'no figure' : now.mine.map(symbolName).join(' and ');
  return (
    <section aria-labelledby="on-the-wall">
      <h2 id="on-the-wall">The plate on the wall</h2>
      <p role="status">
        {now.open ? `Plate ${now.place + 1} of ${now.of}.` : 'No plate takes answers at the moment.'}
        {mine !== null && ` You answered: ${mine}.${now.open ? ' You can change it while the plate stands.' : ''}`}
      </p>
      {now.open && (
        <AnswerRow
          family={now.family} symbols={rowOf(now.family, now.symbols)} chosen={chosen} figures={now.figures} open keyed={false}
          onSymbol={toggle} onNoFigure={() => void send([])} onDone={() => void send(chosen)}
        />
      )}
      {trouble !== null && <TroubleNote trouble={trouble} />}
      <p class="aside">{asSentence(value?.words ?? '')}</p>
    </section>
  );
}
