import {useEffect, useState} from 'preact/hooks';

import {marksText, readingText, type Sheet, type SignOff} from '../model/sheet.ts';
import {titleOf} from '../model/sitting.ts';
import {pathOf} from '../model/route.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, symbolsText, timeText} from '../model/words.ts';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api, go} from './browser.ts';
import {PageFrame} from './frame.tsx';

const EYES = {both: 'both eyes', right: 'right eye', left: 'left eye'} as const;

/** `/sitting/:id/sheet`: what an examiner entered, the technique signed off, the other eye, and roles swapped. */
export function SheetPage({sittingId}: {readonly sittingId: string}) {
  const [sheet, setSheet] = useState<Sheet | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);

  async function load(): Promise<void> {
    const reply = await api.sheet(sittingId);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setSheet(reply.value);
  }
  async function sign(signOff: SignOff): Promise<void> {
    setBusy(true);
    const reply = await api.signOff(sittingId, signOff);
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setSheet(reply.value);
  }
  async function otherEye(): Promise<void> {
    setBusy(true);
    const reply = await api.otherEye(sittingId);
    setBusy(false);
    if (reply.ok) go({page: 'sitting', sitting: reply.value.sitting});
    else setTrouble(reply.trouble);
  }
  useEffect(() => void load(), [sittingId]);

  if (sheet === null) return <PageFrame heading="Sheet of a sitting">{trouble === null ? <p>Loading…</p> : <TroubleNote trouble={trouble} onRetry={() => void load()} />}</PageFrame>;
  const other = sheet.eye === 'right' ? 'left' : 'right';
  return (
    <PageFrame heading={`Sheet of ${sheet.pseudonym}, ${EYES[sheet.eye]}`} title="Sheet of a sitting" look="wide">
      <CautionNote label="What this is for" lines={[asSentence(sheet.intended_use), sheet.whom_to_see]} />
      {trouble !== null && <TroubleNote trouble={trouble} />}
      {sheet.state === 'ended' ? <Next sheet={sheet} other={other} busy={busy} onOtherEye={() => void otherEye()} />
        : <p><a class="button primary" href={pathOf({page: 'sitting', sitting: sittingId})}>Back to the sitting</a></p>}
      <section aria-labelledby="readings">
        <h2 id="readings">Readings as they were entered</h2>
        <p>
          {sheet.shows_drawn ? 'What was drawn stands beside what was said, since the person wants to know.'
            : sheet.state === 'running' ? 'What was drawn is not shown while the sitting runs.'
            : 'What was drawn is not shown: the person did not ask to know.'}
        </p>
        <div class="scroll" tabIndex={0} role="region" aria-label="Readings">
          <table>
            <thead><tr><th scope="col">Round</th><th scope="col">Plate</th><th scope="col">Entered</th><th scope="col">Seconds</th><th scope="col">Noted</th>
              {sheet.shows_drawn && <th scope="col">Drawn</th>}</tr></thead>
            <tbody>
              {sheet.rows.map((row) => (
                <tr key={row.item}>
                  <td>{titleOf(row.round)}</td><th scope="row">{row.plate}</th>
                  <td>{row.void !== null ? <s>{readingText({symbols: row.entered, end: row.end})}</s> : readingText({symbols: row.entered, end: row.end})}</td>
                  <td>{row.seconds === null ? '–' : row.seconds.toFixed(1)}</td><td>{marksText(row)}</td>
                  {sheet.shows_drawn && <td>{symbolsText(row.drawn ?? [], 'no figure')}</td>}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        <p class="aside">Seconds are counted from the plate to the entry, so they hold the examiner’s time as well.</p>
      </section>
      {sheet.state === 'ended' && <Technique sheet={sheet} busy={busy} onSign={(signOff) => void sign(signOff)} />}
    </PageFrame>
  );
}

function Next({sheet, other, busy, onOtherEye}: {
  readonly sheet: Sheet;
  readonly other: 'right' | 'left';
  readonly busy: boolean;
  readonly onOtherEye: () => void;
}) {
  return (
    <section aria-labelledby="next">
      <h2 id="next">Next</h2>
      <div class="buttons">
        {sheet.eye !== 'both' && sheet.other_eyes.length === 0 &&
          <button type="button" class="primary" disabled={busy} onClick={onOtherEye}>Now the {other} eye: cover the {sheet.eye} one</button>}
        {sheet.other_eyes.map(({sitting, eye}) =>
          <a key={sitting} class="button" href={pathOf({page: 'sheet', sitting})}>The sheet of the {EYES[eye]}</a>)}
        <a class="button" href={pathOf({page: 'consent', practical: sheet.practical})}>Swap roles: somebody else sits</a>
        <a class="button" href={pathOf({page: 'outcome', sitting: sheet.sitting})}>The outcome, for nobody but the person who sat</a>
      </div>
      {sheet.eye !== 'both' && <p class="aside">Each eye has a sheet and an outcome of its own; they are never put together. When they differ, see a licensed practitioner soon.</p>}
    </section>
  );
}

function Technique({sheet, busy, onSign}: {readonly sheet: Sheet; readonly busy: boolean; readonly onSign: (signOff: SignOff) => void}) {
  const signed = sheet.sign_off;
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const said = (name: string) => String(form.get(name) ?? '').trim();
    onSign({
      done: sheet.points.map(({name}) => name).filter((name) => form.getAll('done').includes(name)), examiner: said('examiner'),
      supervisor: said('supervisor'), remark: said('remark'),
    });
  };
  return (
    <section aria-labelledby="technique">
      <h2 id="technique">Technique</h2>
      {signed !== null ? (
        <div class="card">
          <ul>{sheet.points.map(({name, words}) => <li key={name}>{signed.done.includes(name) ? 'Yes: ' : 'No: '}{words}</li>)}</ul>
          <p>Examined by {signed.examiner}; signed by {signed.supervisor}, {timeText(signed.signed_utc)}.{signed.remark !== '' && ` ${asSentence(signed.remark)}`}</p>
        </div>
      ) : (
        <form class="card fields" onSubmit={submit}>
          <p>For whoever supervised: tick what was seen. A signature is never changed.</p>
          {sheet.points.map(({name, words}, index) => (
            <div class="choice" key={name}>
              <input type="checkbox" id={`point-${index}`} name="done" value={name} />
              <label for={`point-${index}`}>{words}</label>
            </div>
          ))}
          <div class="field"><label for="examiner">Examined by <span class="aside">(initials)</span></label><input id="examiner" name="examiner" type="text" maxLength={64} required autocomplete="off" /></div>
          <div class="field"><label for="supervisor">Signed by <span class="aside">(initials of the supervisor)</span></label><input id="supervisor" name="supervisor" type="text" maxLength={64} required autocomplete="off" /></div>
          <div class="field"><label for="remark">Remark <span class="aside">(optional)</span></label><input id="remark" name="remark" type="text" maxLength={500} autocomplete="off" /></div>
          <button type="submit" class="primary" disabled={busy}>Sign off</button>
        </form>
      )}
    </section>
  );
}
