import {useEffect, useState} from 'preact/hooks';

import {type PhoneShow, phoneShow} from '../model/show.ts';
import {rowOf, symbolName} from '../model/symbols.ts';
import {asSentence} from '../model/words.ts';
import {AnswerRow} from '../parts/answer-row.tsx';
import {api} from './browser.ts';

const ASK_AGAIN_MS = 1000;

/** On a phone that has joined, while plates are shown: the row for the plate on the wall. Nothing where there is no show. */
export function ShowAnswer() {
  const [now, setNow] = useState<PhoneShow | null>(null);
  const [words, setWords] = useState('');
  const [chosen, setChosen] = useState<readonly string[]>([]);
  const at = now === null ? '' : `${now.id} ${now.place}`;

  const take = (reply: Awaited<ReturnType<typeof ask>>) => {
    if (!reply.ok) return;
    setNow(reply.value.show);
    setWords(reply.value.words);
  };
  const ask = () => api.get('/api/show', phoneShow);
  useEffect(() => {
    void ask().then(take);
    const timer = setInterval(() => void ask().then(take), ASK_AGAIN_MS);
    return () => clearInterval(timer);
  }, []);
  useEffect(() => setChosen([]), [at]);
  if (now === null) return null;

  const send = async (symbols: readonly string[]) => {
    take(await api.change('PUT', '/api/show/answer', {place: now.place, symbols: [...symbols].sort()}, phoneShow));
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
          family={now.family} symbols={rowOf(now.family, now.symbols)} chosen={chosen} figures={now.figures} open
          onSymbol={toggle} onNoFigure={() => void send([])} onDone={() => void send(chosen)}
        />
      )}
      <p class="aside">{asSentence(words)}</p>
    </section>
  );
}
