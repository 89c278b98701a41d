import {useEffect, useState} from 'preact/hooks';

import {createKeep} from '../api/keep.ts';
import {
  csvOf, emptySheet, EYES, keptSheets, lackOf, NO_FIGURE, type PaperEye, type PaperPerson, type PaperRow, type PaperScores, readAsDrawnWords, ticked, type TypedSheet,
} from '../model/paper.ts';
import type {ShelfSet} from '../model/shelf.ts';
import {symbolName} from '../model/symbols.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, countText, symbolsText} from '../model/words.ts';
import {Choices} from '../parts/choices.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api} from './browser.ts';
import {PageFrame} from './frame.tsx';

/** Gone with the tab: nobody else at this computer finds it. */
const whileOpen = createKeep(() => window.sessionStorage);
const EYE_WORDS: {readonly [Eye in PaperEye]: string} = {'': 'not said', both: 'both eyes', right: 'right eye alone', left: 'left eye alone'};
/** The program takes a megabyte. */
const MOST_BYTES = 900_000;

/** `/paper`: the answer sheet to print, and what was ticked on it, typed in or as a file, scored. */
export function PaperPage() {
  const [sets, setSets] = useState<readonly ShelfSet[] | null>(null);
  const [chosen, setChosen] = useState('');
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  async function load(): Promise<void> {
    const reply = await api.shelf();
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return;
    const fit = reply.value.sets.filter(({purpose}) => purpose === 'practical');
    setSets(fit);
    setChosen((before) => before || (fit.find(({in_use: inUse}) => inUse) ?? fit[0])?.set || '');
  }
  useEffect(() => void load(), []);
  return (
    <PageFrame heading="On paper" look="wide">
      <p class="lead">
        A set’s plates can be shown to a room, or printed, and answered on paper. Sheets are scored as a sitting with the same answers is.
        Nothing of them is kept by the program.
      </p>
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={() => void load()} />}
      {sets === null ? trouble === null && <p>Loading…</p> : sets.length === 0 ? <p>There is no set of a practical yet. <a href="/plates">Make one</a>.</p> : <>
        <div class="field">
          <label for="paper-set">Set the sheets belong to</label>
          <select id="paper-set" value={chosen} onChange={(event) => setChosen(event.currentTarget.value)}>
            {sets.map((one) => <option key={one.set} value={one.set}>{one.set}{one.in_use ? ', the one sittings use' : ''}</option>)}
          </select>
        </div>
        {chosen !== '' && <SheetsOfSet key={chosen} set={chosen} />}
      </>}
    </PageFrame>
  );
}

function SheetsOfSet({set}: {readonly set: string}) {
  const base = `/api/sets/${encodeURIComponent(set)}`, key = `copunctal.paper.${set}`;
  const [rows, setRows] = useState<readonly PaperRow[] | null>(null);
  const [intendedUse, setIntendedUse] = useState('');
  const [sheets, setSheets] = useState<readonly TypedSheet[]>([]);
  const [scores, setScores] = useState<PaperScores | null>(null);
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [tooLarge, setTooLarge] = useState(false);

  async function load(): Promise<void> {
    const reply = await api.answerRows(set);
    setTrouble(reply.ok ? null : reply.trouble);
    if (!reply.ok) return;
    setRows(reply.value.plates);
    setIntendedUse(reply.value.intended_use);
    setSheets(keptSheets(whileOpen.read(key), reply.value.plates) ?? []);
  }
  useEffect(() => void load(), []);
  const change = (next: readonly TypedSheet[]) => {
    setSheets(next);
    setScores(null);
    whileOpen.write(key, JSON.stringify(next));
  };
  async function score(csv: string): Promise<void> {
    setBusy(true);
    setTooLarge(false);
    const reply = await api.scorePaper(set, csv);
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    setScores(reply.ok ? reply.value : null);
  }
  async function take(input: HTMLInputElement): Promise<void> {
    const file = input.files?.[0];
    if (file === undefined) return;
    if (file.size > MOST_BYTES) {
      setTooLarge(true);
      setScores(null);
    } else {
      await score(await file.text());
    }
    // The same file, mended, may be taken again.
    input.value = '';
  }

  if (rows === null) return trouble === null ? <p>Loading…</p> : <TroubleNote trouble={trouble} onRetry={() => void load()} />;
  return (
    <>
      <CautionNote label="What this is for" lines={[asSentence(intendedUse)]} />
      <section aria-labelledby="print">
        <h2 id="print">The sheet</h2>
        <div class="buttons">
          <a class="button" download href={`${base}/answer-sheet`} target="_self">Answer sheet to print (PDF)</a>
          <a class="button" download href={`${base}/answer-table`} target="_self">Empty table (CSV)</a>
        </div>
      </section>
      <section aria-labelledby="type">
        <h2 id="type">Type sheets in</h2>
        <SheetForm rows={rows} others={sheets} onAdd={(sheet) => change([...sheets, sheet])} />
        {sheets.length > 0 && <>
          <h3>{countText(sheets.length, 'sheet', 'sheets')} typed in</h3>
          <ul>
            {sheets.map((one, at) => (
              <li key={`${one.pseudonym} ${one.eye}`}>
                {one.pseudonym}{one.eye !== '' && `, ${EYE_WORDS[one.eye]}`}{' '}
                <button type="button" class="quiet" onClick={() => change(sheets.filter((_, other) => other !== at))}>Take it out<span class="spoken">: {one.pseudonym}</span></button>
              </li>
            ))}
          </ul>
          <div class="buttons">
            <button type="button" class="primary" disabled={busy} onClick={() => void score(csvOf(rows, sheets))}>Score what was typed in</button>
            <button type="button" onClick={() => save(csvOf(rows, sheets))}>Save it as CSV</button>
          </div>
        </>}
      </section>
      <section aria-labelledby="file">
        <h2 id="file">Or a file</h2>
        <div class="field">
          <label for="paper-file">A CSV file of answers</label>
          <input id="paper-file" type="file" accept=".csv,text/csv" disabled={busy} onChange={(event) => void take(event.currentTarget)} />
          <p class="aside">A row a person with a column a plate, as in the empty table, or a row an answer: pseudonym, plate, reading. A reading is the symbol, two joined by +, “none” for no figure, empty for a plate that was not shown.</p>
        </div>
      </section>
      {tooLarge && <p class="note trouble" role="alert">The file is larger than {MOST_BYTES / 1000} kB; <code>copunctal score</code> takes up to 5 MB.</p>}
      {trouble !== null && <TroubleNote trouble={trouble} />}
      <p role="status">{busy ? 'Scoring: the first time takes some seconds.' : scores === null ? '' : `${countText(scores.people.length, 'sheet is', 'sheets are')} scored.`}</p>
      {scores !== null && <Scores scores={scores} />}
    </>
  );
}

function SheetForm({rows, others, onAdd}: {readonly rows: readonly PaperRow[]; readonly others: readonly TypedSheet[]; readonly onAdd: (sheet: TypedSheet) => void}) {
  const [sheet, setSheet] = useState<TypedSheet>(() => emptySheet(rows));
  const [lack, setLack] = useState<string | null>(null);
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const found = lackOf(sheet, others);
    setLack(found);
    if (found !== null) return;
    onAdd(sheet);
    setSheet(emptySheet(rows));
    (event.currentTarget as HTMLFormElement).querySelector<HTMLInputElement>('input')?.focus();
  };
  return (
    <form class="card" onSubmit={submit}>
      <div class="fields">
        <div class="field">
          <label for="paper-pseudonym">Pseudonym on the sheet, no name</label>
          <input id="paper-pseudonym" maxLength={64} autocomplete="off" value={sheet.pseudonym} onInput={(event) => setSheet({...sheet, pseudonym: event.currentTarget.value})} />
        </div>
        <div class="field">
          <label for="paper-eye">Eye</label>
          <select id="paper-eye" value={sheet.eye} onChange={(event) => setSheet({...sheet, eye: event.currentTarget.value as PaperEye})}>
            {EYES.map((eye) => <option key={eye} value={eye}>{EYE_WORDS[eye]}</option>)}
          </select>
        </div>
      </div>
      <p class="aside">Nothing ticked says that the plate was not shown. Where a plate has two rows, each takes one tick.</p>
      <div class="paper-plates">
        {rows.map(({number, symbols, figures}, plate) => Array.from({length: figures}, (_, row) => (
          <Choices key={`${number} ${row}`} name={`tick-${number}-${row}`} question={figures === 1 ? `Plate ${number}` : `Plate ${number}, row ${row + 1}`}
            options={[...symbols.map((value) => ({value, words: symbolName(value)})), {value: NO_FIGURE, words: 'no figure'}, {value: '', words: 'nothing ticked'}]}
            chosen={sheet.ticks[plate]![row] ?? ''} onChoose={(value) => setSheet(ticked(sheet, plate, row, value === '' ? null : value))} />
        )))}
      </div>
      {lack !== null && <p class="note trouble" role="alert">{lack}</p>}
      <div class="buttons"><button type="submit">Add this sheet</button></div>
    </form>
  );
}

function Scores({scores}: {readonly scores: PaperScores}) {
  return (
    <>
      <CautionNote label="What the scores are for" lines={[asSentence(scores.intended_use), scores.whom_to_see]} />
      <section aria-labelledby="scores">
        <h2 id="scores">What the sheets say</h2>
        <p>For whoever runs the practical. Tell a person only what that person asked to hear.</p>
        {scores.people.map((person) => <ScoredPerson key={`${person.pseudonym} ${person.eye ?? ''}`} person={person} />)}
        {scores.prior !== '' && <p class="aside">{asSentence(scores.prior)}</p>}
        <ul class="aside">{scores.assumptions.map((line) => <li key={line}>{line}</li>)}</ul>
      </section>
    </>
  );
}

function ScoredPerson({person}: {readonly person: PaperPerson}) {
  const missed = person.plates.filter((plate) => !plate.as_drawn);
  return (
    <article class="card" aria-label={`Sheet of ${person.pseudonym}`}>
      <h3>{person.pseudonym}{person.eye !== null && `, ${EYE_WORDS[person.eye as PaperEye]}`}</h3>
      <p>{person.summary}</p>
      {person.interpretable && <p>{readAsDrawnWords(person.misses)}{person.median_seconds !== null && ` An answer took ${person.median_seconds.toFixed(1)} s (median).`}</p>}
      {person.notes.map((note) => <p key={note} class="aside">{asSentence(note)}</p>)}
      {missed.length > 0 && (
        <details>
          <summary>{countText(missed.length, 'plate', 'plates')} not read as drawn<span class="spoken">: {person.pseudonym}</span></summary>
          <div class="scroll" tabIndex={0} role="region" aria-label={`Plates ${person.pseudonym} did not read as drawn`}>
            <table>
              <thead><tr><th scope="col">Plate</th><th scope="col">Kind</th><th scope="col">Drawn</th><th scope="col">Read</th></tr></thead>
              <tbody>
                {missed.map((plate) => (
                  <tr key={plate.name}>
                    <th scope="row">{plate.name}</th><td>{plate.kind}</td><td>{symbolsText(plate.drawn, 'no figure')}</td><td>{symbolsText(plate.read, 'no figure')}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </details>
      )}
      <p class="aside">{person.caution}</p>
    </article>
  );
}

function save(csv: string): void {
  const address = URL.createObjectURL(new Blob([csv], {type: 'text/csv'}));
  const link = document.createElement('a');
  link.href = address;
  link.download = 'answers.csv';
  link.click();
  URL.revokeObjectURL(address);
}
