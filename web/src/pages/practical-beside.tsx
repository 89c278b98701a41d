import {useState} from 'preact/hooks';

import {pathOf} from '../model/route.ts';
import type {RotaPlace} from '../model/sheet.ts';
import type {Trouble} from '../model/wire.ts';
import {countText} from '../model/words.ts';
import {api, go} from './browser.ts';
import {copyText} from './copy-text.ts';
import {CopyLine} from '../parts/copy-line.tsx';
import {TroubleNote} from '../parts/notes.tsx';

/** Who sits and who examines, for pairs that take turns at some screens. */
export function RotaOfExaminers() {
  const [turns, setTurns] = useState<readonly (readonly RotaPlace[])[] | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const reply = await api.rota(Math.round(Number(form.get('people'))), Math.round(Number(form.get('stations'))));
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setTurns(reply.value);
  };
  return (
    <section aria-labelledby="rota">
      <h2 id="rota">In pairs, with a rota</h2>
      <p>One sits, one examines, then they swap. People number themselves from 1; where one is left over, three take turns.</p>
      <form class="card fields" onSubmit={(event) => void submit(event)}>
        <div class="field"><label for="rota-people">People</label><input id="rota-people" name="people" type="number" min={2} max={400} step={1} defaultValue="12" required /></div>
        <div class="field"><label for="rota-stations">Screens</label><input id="rota-stations" name="stations" type="number" min={1} max={400} step={1} defaultValue="3" required /></div>
        <button type="submit">Make a rota</button>
      </form>
      {trouble !== null && <TroubleNote trouble={trouble} />}
      {turns !== null && (
        <div class="scroll" tabIndex={0} role="region" aria-label="Rota">
          <table>
            <thead><tr><th scope="col">Turn</th><th scope="col">At each screen: who sits, who examines</th></tr></thead>
            <tbody>
              {turns.map((places, turn) => (
                <tr key={turn}><th scope="row">{turn + 1}</th><td>{places.map(({station, sits, examines}) => `screen ${station}: ${sits} sits, ${examines} examines`).join(' · ')}</td></tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}

/** What goes with a practical beside its class: who took part, its last day, last year's once more. */
export function Beside({practicalId, name, isInvented}: {
  readonly practicalId: string;
  readonly name: string;
  /** A rehearsal, which leaves nothing to keep. */
  readonly isInvented: boolean;
}) {
  const [entries, setEntries] = useState<readonly string[] | null>(null);
  const [news, setNews] = useState('');
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const list = async () => {
    const reply = await api.participations(practicalId);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setEntries(reply.value);
  };
  const keep = async (event: SubmitEvent) => {
    event.preventDefault();
    const day = String(new FormData(event.currentTarget as HTMLFormElement).get('day') ?? '');
    const reply = await api.keepUntil(practicalId, day === '' ? null : day);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setNews(reply.value.keep_until === null ? 'It is kept without end.' : `It is kept until ${reply.value.keep_until} and then removed for good.`);
  };
  const copy = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const said = (field: string) => String(form.get(field) ?? '').trim();
    const reply = await api.copyPractical(practicalId, {name: said('name'), course: said('course'), group: said('group')});
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) go({page: 'practical', practical: reply.value.id});
  };
  return (
    <section aria-labelledby="beside">
      <h2 id="beside">Beside it</h2>
      {trouble !== null && <TroubleNote trouble={trouble} />}
      <p role="status">{news}</p>
      <details class="card" onToggle={(event) => { if ((event.currentTarget as HTMLDetailsElement).open) void list(); }}>
        <summary>Who took part, for credit</summary>
        <p>In the order of the alphabet, as entered by themselves. Nothing leads from here to a sitting or an answer.</p>
        {entries === null ? <p>Loading…</p> : <>
          <p>{countText(entries.length, 'entry', 'entries')}.</p>
          <ul>{entries.map((entry) => <li key={entry}>{entry}</li>)}</ul>
        </>}
      </details>
      <details class="card">
        <summary>Last day on which it is kept</summary>
        <form class="fields" onSubmit={(event) => void keep(event)}>
          <div class="field"><label for="keep-day">Last day <span class="aside">(empty: without end)</span></label><input id="keep-day" name="day" type="date" /></div>
          <button type="submit">Keep it until then</button>
        </form>
      </details>
      <details class="card">
        <summary>The same practical once more, for another class</summary>
        <form class="fields" onSubmit={(event) => void copy(event)}>
          <p>With the same plates, times, rules and loans, and nobody in it.</p>
          <div class="field"><label for="copy-name">Name</label><input id="copy-name" name="name" type="text" maxLength={64} defaultValue={name} required /></div>
          <div class="field"><label for="copy-course">Course <span class="aside">(optional)</span></label><input id="copy-course" name="course" type="text" maxLength={64} /></div>
          <div class="field"><label for="copy-group">Group <span class="aside">(optional)</span></label><input id="copy-group" name="group" type="text" maxLength={64} /></div>
          <button type="submit">Prepare it</button>
        </form>
      </details>
      {!isInvented && <details class="card">
        <summary>Its data as files</summary>
        <p>On the command line, also while this program runs. In one file, which can be imported elsewhere:</p>
        <CopyLine line={`copunctal practical export ${practicalId} -o practical.json`} onCopy={copyText} />
        <p>As tables with a dictionary of their columns:</p>
        <CopyLine line={`copunctal practical export ${practicalId} --csv practical`} onCopy={copyText} />
        <p class="aside">Where the program was started with <code>--data</code> or <code>--database</code>, add the same. The files hold answers of people, under two words each: keep them as such.</p>
      </details>}
      <p><a class="alone" href={pathOf({page: 'start'})}>All practicals</a></p>
    </section>
  );
}
