import {useEffect, useState} from 'preact/hooks';

import {type BlindSheet, type BlindSheets, type Kind, KINDS} from '../model/sheet.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, symbolsText} from '../model/words.ts';
import {Choices} from '../parts/choices.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api, keep, newId} from './browser.ts';
import {PageFrame} from './frame.tsx';

const RATINGS = [
  {value: 1, words: '1, surely normal'}, {value: 2, words: '2'}, {value: 3, words: '3, cannot tell'}, {value: 4, words: '4'}, {value: 5, words: '5, surely not normal'},
] as const;

/** `/sheets/:practical`: answer sheets without names; the class says what it makes of each, and is compared with the truth. */
export function SheetsPage({practicalId}: {readonly practicalId: string}) {
  const [all, setAll] = useState<BlindSheets | null>(null);
  const [at, setAt] = useState(0);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const rater = raterFor(practicalId);

  async function load(): Promise<void> {
    const reply = await api.blindSheets(practicalId, rater);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setAll(reply.value);
  }
  async function rate(sheet: BlindSheet, rating: number, kind: Kind): Promise<void> {
    const reply = await api.rateSheet(practicalId, sheet.sheet, {rater, rating, kind});
    if (!reply.ok) return setTrouble(reply.trouble);
    await load();
  }
  useEffect(() => void load(), [practicalId]);

  const sheet = all?.sheets[at];
  const judged = all?.sheets.filter(({rating}) => rating !== null).length ?? 0;
  return (
    <PageFrame heading="Whose sheet is this?" title="Sheets to judge">
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={() => void load()} />}
      {all === null ? trouble === null && <p>Loading…</p> : <>
        <CautionNote label="What this is for" lines={[asSentence(all.intended_use)]} />
        <p>
          Each sheet holds what somebody read with eyes that a lot decided: their own, or an observer’s that was lent. No sheet has a name.
          Say how sure you are that the eyes were not normal, and what kind they were.
        </p>
        {sheet === undefined ? <p>There is no sheet: no lot was drawn in this practical, or nobody agreed to be counted.</p> : <>
          <p role="status">{judged} of {all.sheets.length} judged.</p>
          <section class="card" aria-labelledby="sheet">
            <h2 id="sheet">Sheet {sheet.sheet}</h2>
            <div class="scroll" tabIndex={0} role="region" aria-label={`Readings of sheet ${sheet.sheet}`}>
              <table>
                <thead><tr><th scope="col">Plate</th><th scope="col">Drawn</th><th scope="col">Read</th><th scope="col">As drawn?</th></tr></thead>
                <tbody>
                  {sheet.rows.map((row) => (
                    <tr key={row.plate}>
                      <th scope="row">{row.plate}</th><td>{symbolsText(row.drawn, 'no figure')}</td><td>{row.void ? 'void' : symbolsText(row.read, 'no figure')}</td>
                      <td>{row.void ? '–' : row.read.join() === row.drawn.join() ? 'yes' : 'no'}</td>
                    </tr>
                  ))}
                </tbody>
              </table>
            </div>
            <Judgement key={sheet.sheet} sheet={sheet} onRate={(rating, kind) => void rate(sheet, rating, kind)} />
          </section>
          <div class="buttons">
            <button type="button" disabled={at === 0} onClick={() => setAt(at - 1)}>The sheet before</button>
            <button type="button" class="primary" disabled={at === all.sheets.length - 1} onClick={() => setAt(at + 1)}>The next sheet</button>
          </div>
        </>}
      </>}
    </PageFrame>
  );
}

function Judgement({sheet, onRate}: {readonly sheet: BlindSheet; readonly onRate: (rating: number, kind: Kind) => void}) {
  const [rating, setRating] = useState<number | null>(sheet.rating);
  const [kind, setKind] = useState<Kind | null>(sheet.kind);
  const choose = (nextRating: number | null, nextKind: Kind | null) => {
    setRating(nextRating);
    setKind(nextKind);
    if (nextRating !== null && nextKind !== null) onRate(nextRating, nextKind);
  };
  return (
    <>
      <Choices name="rating" question="Were these eyes normal?" options={RATINGS} chosen={rating} onChoose={(value) => choose(value, kind)} />
      <Choices name="kind" question="If you had to say: which kind?" options={KINDS.map((value) => ({value, words: value}))} chosen={kind} onChoose={(value) => choose(rating, value)} />
      <p class="aside" role="status">{rating === null || kind === null ? 'Saved once both are chosen.' : rating === sheet.rating && kind === sheet.kind ? 'Saved. You may change it.' : 'Not saved yet.'}</p>
    </>
  );
}

/** A random id of this browser's for this practical, so that its last word on a sheet counts once. */
function raterFor(practicalId: string): string {
  const key = `copunctal.rater.${practicalId}`;
  const kept = keep.read(key);
  if (kept !== null && /^[0-9a-f]{32}$/.test(kept)) return kept;
  const made = newId();
  keep.write(key, made);
  return made;
}
