import {useEffect, useState} from 'preact/hooks';

import {barOf, type Card, type ClassDebrief, expectationWords, readWords, type Roc, ruleWords, type RunPractical, type Score, type Watched} from '../model/class.ts';
import type {Reply} from '../api/client.ts';
import type {ClassState} from '../model/join.ts';
import {inventedWords} from '../model/rehearsal.ts';
import {pathOf} from '../model/route.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, clockTimeText, countText, observerName, timeText} from '../model/words.ts';
import {Bar} from '../parts/bar.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {JudgedSheets} from './judged-sheets.tsx';
import {Beside, RotaOfExaminers} from './practical-beside.tsx';
import {api} from './browser.ts';
import {PageFrame} from './frame.tsx';
import {MakeFor} from './make-for-display.tsx';
import {RehearsalPanel} from './rehearsal-panel.tsx';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 2000;

/** `/practical/:id`: for whoever runs it. Prepare, open with a sealed card, watch, close, debrief. */
export function PracticalPage({practicalId}: {readonly practicalId: string}) {
  const {value: practical, trouble: notAsked, again, put} = useEvery(ASK_AGAIN_MS, () => api.runPractical(practicalId), {asLongAs: ({state}) => state !== 'closed'});
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [busy, setBusy] = useState(false);
  const [isDemonstrator, setIsDemonstrator] = useState<boolean | null>(null);
  const isDrawing = practical?.loans_drawn.some(({ready}) => !ready) === true;

  const shown = trouble ?? notAsked;
  const isInvented = inventedWords(document.documentElement) !== null;

  async function change(asked: Promise<Reply<RunPractical>>): Promise<void> {
    setBusy(true);
    const reply = await asked;
    setBusy(false);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) put(reply.value);
  }
  function retry(): void {
    setTrouble(null);
    again();
  }

  useEffect(() => {
    void api.about().then((reply) => setIsDemonstrator(reply.ok && reply.value.role === 'demonstrator'));
  }, [practicalId]);

  return (
    <PageFrame heading={practical === null ? 'A practical' : `Practical “${practical.name}”`} title="Run a practical" look="wide">
      {shown !== null && <TroubleNote trouble={shown} onRetry={retry} />}
      {practical === null ? shown === null && <p>Loading…</p> : <>
        <p class="lead"><span role="status">{stateWords(practical)}</span>{peopleWords(practical)}</p>
        <CautionNote label="What this is for" lines={[asSentence(practical.intended_use)]} />
        {practical.loans_drawn.length > 0 && <Loans practical={practical} />}
        {practical.state === 'preparing' &&
          <Opening busy={busy} waits={isDrawing} onOpen={(expected) => void change(api.openPractical(practicalId, expected))} />}
        {practical.card !== null && <CardShown card={practical.card} seal={practical.card_sha256 ?? ''} isAsSealed={practical.card_is_as_sealed} />}
        {practical.state === 'open' && <>
          {!isInvented && <OwnDevices isDemonstrator={isDemonstrator !== false} />}
          {isDemonstrator === true && <Stages practicalId={practicalId} />}
          <Closing busy={busy} onClose={() => void change(api.closePractical(practicalId))} />
          {/* Last of these: it grows as people come, and must not push anything away from under a hand. */}
          {isDemonstrator === false && <Watch practicalId={practicalId} />}
        </>}
        {practical.state === 'closed' && <>
          <Debrief practicalId={practicalId} />
          {practical.loans_drawn.length > 0 && <JudgedSheets practicalId={practicalId} />}
        </>}
        {practical.state !== 'closed' && <RotaOfExaminers />}
        {practical.state !== 'closed' && isDemonstrator === false && <RehearsalPanel />}
        {isDemonstrator === false && <Beside practicalId={practicalId} name={practical.name} isInvented={isInvented} />}
        {isDemonstrator === true && <p><a class="alone" href={pathOf({page: 'demonstrator'})}>All you may run</a></p>}
      </>}
    </PageFrame>
  );
}

function stateWords({state, opened_utc: opened, closed_utc: closed}: RunPractical): string {
  switch (state) {
    case 'preparing':
      return 'It is being prepared. Nobody can sit it before it is open.';
    case 'open':
      return `It has been open${opened === null ? '' : ` since ${timeText(opened)}`}.`;
    case 'closed':
      return `It has been closed${closed === null ? '' : ` since ${timeText(closed)}`}.`;
  }
}

/** Beside the state, which is read aloud when it changes; these numbers change too often for that. */
function peopleWords({state, sittings}: RunPractical): string {
  switch (state) {
    case 'preparing':
      return '';
    case 'open':
      return ` ${countText(sittings, 'person has', 'people have')} begun.`;
    case 'closed':
      return ` ${countText(sittings, 'person', 'people')} took part.`;
  }
}

function Loans({practical}: {readonly practical: RunPractical}) {
  return (
    <section aria-labelledby="loans">
      <h2 id="loans">Observers lent</h2>
      <ul>
        {practical.loans_drawn.map(({observer, ready, left_out: leftOut, refusal}) => (
          <li key={observer}>
            {observerName(observer)}: {refusal !== null ? `cannot be lent: ${refusal}` : !ready ? 'its plates are being drawn …'
              : leftOut.length === 0 ? 'all plates are drawn' : `drawn, but for ${leftOut.join(', ')}, which this display cannot show on loan`}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Opening({busy, waits, onOpen}: {
  readonly busy: boolean;
  /** For plates on loan. */
  readonly waits: boolean;
  readonly onOpen: (expected: {readonly men: number; readonly women: number; readonly misses: number}) => void;
}) {
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const whole = (name: string) => Math.round(Number(data.get(name)));
    onOpen({men: whole('men'), women: whole('women'), misses: whole('misses')});
  };
  return (
    <section aria-labelledby="opening">
      <h2 id="opening">Open it</h2>
      <form class="card fields" onSubmit={submit}>
        <p>
          On opening, what is predicted of this class is written on a card and sealed. Afterwards it is compared with what was read.
          The rule is chosen now, not once the answers are known.
        </p>
        <div class="field">
          <label for="class-men">Men expected</label>
          <input id="class-men" name="men" type="number" min={0} max={1000} step={1} defaultValue="12" required />
        </div>
        <div class="field">
          <label for="class-women">Women expected</label>
          <input id="class-women" name="women" type="number" min={0} max={1000} step={1} defaultValue="12" required aria-describedby="class-people-hint" />
          <p id="class-people-hint" class="aside">They decide how many deficiencies are to be expected; nobody is asked to say which they are.</p>
        </div>
        <div class="field">
          <label for="class-misses">Misses in the first round that count</label>
          <input id="class-misses" name="misses" type="number" min={1} max={30} step={1} defaultValue="3" required aria-describedby="class-misses-hint" />
          <p id="class-misses-hint" class="aside">So many or more. Fewer find more deficiencies, and more people who have none.</p>
        </div>
        <button type="submit" class="primary" disabled={busy || waits} aria-describedby="class-opening-waits">Seal the card and open</button>
        <p id="class-opening-waits" class="aside">{waits && 'It waits until all plates on loan are drawn.'}</p>
      </form>
    </section>
  );
}

function CardShown({card, seal, isAsSealed}: {readonly card: Card; readonly seal: string; readonly isAsSealed: boolean}) {
  return (
    <section aria-labelledby="card">
      <h2 id="card">Prediction card</h2>
      <div class="card">
        <p>{expectationWords(card)}</p>
        <p class="aside">
          For {card.men} men and {card.women} women, European figures. Sealed {timeText(card.made_utc)}; SHA-256 <code class="seal">{seal}</code>,{' '}
          {isAsSealed ? 'which the card still has.' : 'which the card does NOT have any more: it was changed.'}
        </p>
        <details>
          <summary>Share predicted to read each plate as drawn</summary>
          <div class="scroll" tabIndex={0} role="region" aria-label="Predicted shares">
            <table>
              <thead><tr><th scope="col">Plate</th><th scope="col">Kind</th><th scope="col">This class</th>
                {OBSERVERS.map((observer) => <th scope="col" key={observer}>{observerName(observer)}</th>)}</tr></thead>
              <tbody>
                {card.plates.map((plate) => (
                  <tr key={plate.name}>
                    <th scope="row">{plate.name}</th><td>{plate.kind}</td><td>{percent(plate.of_class)}</td>
                    {OBSERVERS.map((observer) => <td key={observer}>{percent(plate.by_observer.get(observer) ?? Number.NaN)}</td>)}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </details>
      </div>
    </section>
  );
}

const OBSERVERS: readonly string[] = ['normal', 'protan:0', 'deutan:0', 'protan:5', 'deutan:5', 'tritan'];

function percent(share: number): string {
  return Number.isNaN(share) ? '–' : `${(100 * share).toFixed(0)} %`;
}

/** How the class joins with its own devices: address, code, QR code. */
function OwnDevices({isDemonstrator}: {readonly isDemonstrator: boolean}) {
  const {value: state, trouble: notAsked, put} = useEvery(ASK_AGAIN_MS, api.classState);
  const {value: displays} = useEvery(ASK_AGAIN_MS, api.classDisplays);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [turn, setTurn] = useState(0);
  const [demonstratorCode, setDemonstratorCode] = useState<string | null>(null);
  async function change(asked: Promise<Reply<ClassState>>): Promise<void> {
    const reply = await asked;
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) put(reply.value);
  }
  // A new code may come from another page of whoever runs the class, too; the picture of it must not stay behind.
  useEffect(() => setTurn((before) => before + 1), [state?.code]);
  return (
    <section aria-labelledby="devices">
      <h2 id="devices">On their own devices</h2>
      {trouble !== null && <TroubleNote trouble={trouble} />}
      {state === null && notAsked === null && <p>Loading…</p>}
      {state !== null && (state.network === null
        ? <p>The program serves this computer alone. Started with <code>--lan</code>, it lets a class in over the room’s network.</p>
        : <div class="card">
            {state.network.transport === 'plain' && <p><strong>Not encrypted:</strong> others on this network could read answers.</p>}
            <p>Address <strong>{state.network.address}</strong>, code <strong class="class-code">{state.code}</strong>; {countText(state.devices.length, 'device has', 'devices have')} joined.</p>
            {state.network.fingerprint !== null && <p class="aside">The browser warns of a certificate it does not know. Its SHA-256: <code class="seal">{state.network.fingerprint}</code></p>}
            <p><img src={`/api/class/qr?turn=${turn}`} width="220" height="220" alt={`QR code of ${state.network.address} with the code of the class`} /></p>
            {displays !== null && displays.devices.length > 0 && (
              <ul>
                {displays.devices.map(({display, devices, has_plates: hasPlates}) => (
                  <li key={display ?? ''}>
                    {countText(devices, 'screen', 'screens')} {display === null ? 'not checked yet' : `checked as ${display}`}:{' '}
                    {hasPlates ? 'plates were made for it.' : `plates made for ${displays.with_plates[0]} are shown.`}{' '}
                    {!hasPlates && !isDemonstrator && display !== null && <MakeFor display={display} making={displays.making} />}
                  </li>
                ))}
              </ul>
            )}
            {state.devices.length > 0 && (
              <details>
                <summary>Devices that have joined</summary>
                <ul>
                  {state.devices.map(({device, sittings, demonstrator}) => (
                    <li key={device}>Device {device}{demonstrator && ', a demonstrator’s'}, {countText(sittings, 'sitting', 'sittings')}{' '}
                      {!isDemonstrator && <button type="button" class="quiet" onClick={() => void api.endDevice(device).then(() => change(api.classState()))}>End it<span class="spoken">: device {device}</span></button>}
                    </li>
                  ))}
                </ul>
                <p class="aside">A device that was ended may join again with the code; what was saved of its sittings stays.</p>
              </details>
            )}
            {demonstratorCode !== null && (
              <p role="status">For one demonstrator’s device: <strong class="class-code">{demonstratorCode}</strong>, typed at the same address. Demonstrators open, watch stages and close; they see nobody’s sitting.</p>
            )}
            <div class="buttons">
              {!isDemonstrator && state.network.transport === 'tls' &&
                <button type="button" onClick={() => void api.newDemonstratorCode().then((reply) => { if (reply.ok) setDemonstratorCode(reply.value); else setTrouble(reply.trouble); })}>A code for a demonstrator</button>}
              <button type="button" onClick={() => void change(api.newClassCode())}>New code</button>
              <button type="button" onClick={() => void change(api.setJoining(state.joining === 'open' ? 'locked' : 'open'))}>
                {state.joining === 'open' ? 'Let nobody else join' : 'Let people join again'}
              </button>
            </div>
          </div>)}
    </section>
  );
}

const STAGES: {readonly [Stage in Watched['stage']]: string} = {
  'begun': 'has begun', 'first round': 'first round', 'later rounds': 'later rounds', 'ended': 'has finished',
};

/** Who is where, by pseudonym, and never how well: this may stand on a screen a room can see. */
function Watch({practicalId}: {readonly practicalId: string}) {
  const {value: people} = useEvery(ASK_AGAIN_MS, () => api.watchPractical(practicalId));
  const now = new Date();
  return (
    <section aria-labelledby="watch">
      <h2 id="watch">Who is where</h2>
      <p><a class="button" href={pathOf({page: 'consent', practical: practicalId})}>To the page people sit at</a></p>
      {people !== null && people.length > 0 && <p>{stageCounts(people)}.</p>}
      {people === null ? <p>Loading…</p> : people.length === 0 ? <p>Nobody has begun yet.</p> : (
        <div class="scroll" tabIndex={0} role="region" aria-label="People by pseudonym">
          <table>
            <thead><tr><th scope="col">Pseudonym</th><th scope="col">Where</th><th scope="col">First round</th><th scope="col">Last heard of</th></tr></thead>
            <tbody>
              {people.map((one) => (
                <tr key={one.pseudonym}>
                  <th scope="row">{one.pseudonym}</th>
                  <td>{STAGES[one.stage]}</td>
                  <td>{one.stage === 'ended' ? '' : <Bar share={one.of === 0 ? 0 : one.answered / one.of} label={`${one.answered} of ${one.of}`} />}</td>
                  <td>{clockTimeText(one.last_heard_utc, now)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}

const COUNTED: {readonly [stage: string]: string} = {'begun': 'only begun', 'first round': 'in the first round', 'later rounds': 'in later rounds', 'ended': 'finished'};

function stageCounts(people: readonly Watched[]): string {
  return Object.entries(COUNTED).map(([stage, words]) => `${people.filter((one) => one.stage === stage).length} ${words}`).join(', ');
}

/** How many are where, of nobody: for demonstrators. */
function Stages({practicalId}: {readonly practicalId: string}) {
  const {value: stages} = useEvery(ASK_AGAIN_MS, () => api.stages(practicalId));
  return (
    <section aria-labelledby="stages">
      <h2 id="stages">How many are where</h2>
      {stages === null ? <p>Loading…</p> : <ul class="plain-list">{[...stages].map(([stage, people]) => <li key={stage}>{COUNTED[stage] ?? stage}: {people}</li>)}</ul>}
    </section>
  );
}

function Closing({busy, onClose}: {readonly busy: boolean; readonly onClose: () => void}) {
  const [asked, setAsked] = useState(false);
  return (
    <section aria-labelledby="closing">
      <h2 id="closing">Close it</h2>
      <p>Nobody can begin then, and whoever is still sitting ends where they are. It cannot be opened again.</p>
      {asked
        ? <div class="buttons">
            <button type="button" class="primary" disabled={busy} onClick={onClose}>Close it for good</button>
            <button type="button" onClick={() => setAsked(false)}>Leave it open</button>
          </div>
        : <button type="button" onClick={() => setAsked(true)}>Close the practical</button>}
    </section>
  );
}

function Debrief({practicalId}: {readonly practicalId: string}) {
  const [debrief, setDebrief] = useState<ClassDebrief | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  async function load(): Promise<void> {
    const reply = await api.classDebrief(practicalId);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setDebrief(reply.value);
  }
  useEffect(() => void load(), [practicalId]);
  if (trouble !== null) return <TroubleNote trouble={trouble} onRetry={() => void load()} />;
  if (debrief === null) return <p>Loading…</p>;
  const lent = [...new Set(debrief.plates.flatMap(({loans}) => loans.map(({observer}) => observer)))];
  return (
    <>
      <section aria-labelledby="debrief">
        <h2 id="debrief">What the class read</h2>
        <p>
          Of those who answered, {countText(debrief.own, 'person', 'people')} with own eyes and {debrief.on_loan} by lot agreed to be counted here. {ruleWords(debrief.meet_rule)} Where fewer than five people differ from the others, no number is given.
          {!debrief.card_was_sealed && ' It was opened without a card: what stands as predicted was worked out afterwards, for as many men as women.'}
        </p>
        <div class="scroll" tabIndex={0} role="region" aria-label="Plate by plate">
          <table>
            <thead>
              <tr><th scope="col">Plate</th><th scope="col">Kind</th><th scope="col">Drawn</th><th scope="col">Predicted</th><th scope="col">Read, own eyes</th>
                {lent.map((observer) => <th scope="col" key={observer}>{lentName(observer)}: predicted, read</th>)}</tr>
            </thead>
            <tbody>
              {debrief.plates.map((plate) => {
                const read = barOf(plate.own);
                return (
                  <tr key={plate.name}>
                    <th scope="row">{plate.name}</th><td>{plate.kind}{plate.kind === 'fork' && ', after misses only'}</td><td>{plate.drawn.join(', ')}</td>
                    <td><Bar share={plate.predicted} label={percent(plate.predicted)} /></td>
                    <td>{read === null ? readWords(plate.own) : <Bar share={read} label={readWords(plate.own)} />}</td>
                    {lent.map((observer) => {
                      const loan = plate.loans.find((one) => one.observer === observer);
                      return <td key={observer}>{loan === undefined ? '–' : `${percent(loan.predicted)}, ${readWords(loan.read)}`}</td>;
                    })}
                  </tr>
                );
              })}
            </tbody>
          </table>
        </div>
      </section>
      <section aria-labelledby="score">
        <h2 id="score">How good the card was</h2>
        <ScoreShown score={debrief.own_score} whose="own eyes" />
        {debrief.loan_score.answers > 0 && <ScoreShown score={debrief.loan_score} whose="lent eyes" />}
      </section>
      {debrief.loans.length > 0 && (
        <section aria-labelledby="lent">
          <h2 id="lent">What answers with lent eyes pointed to</h2>
          <p>Here the truth is known: the observer that was lent. The verdict is the one an outcome would give.</p>
          <ul>
            {debrief.loans.map((row) => (
              <li key={row.observer}>
                {observerName(row.observer)}, lent to {row.sittings}: the rule was met by {row.meet_rule}; verdicts:{' '}
                {[...row.verdicts].map(([verdict, people]) => `${verdict} ${people}`).join(', ')}.
              </li>
            ))}
          </ul>
          {debrief.roc === null
            ? <p class="aside">A curve of hits against false alarms needs ten people with lent red–green deficiencies and ten whom the lot left their own eyes.</p>
            : <RocShown roc={debrief.roc} />}
        </section>
      )}
      <CautionNote label="What this is for, once more" lines={[asSentence(debrief.intended_use), debrief.whom_to_see]} />
    </>
  );
}

function lentName(observer: string): string {
  return observer === 'own' ? 'own eyes by lot' : `lent ${observerName(observer)}`;
}

function ScoreShown({score, whose}: {readonly score: Score; readonly whose: string}) {
  if (score.answers === 0) return <p>Too few answers with {whose} to say.</p>;
  return (
    <div class="card">
      <p>
        {countText(score.answers, 'answer', 'answers')} with {whose}: {score.bits.toFixed(2)} bits of surprise each, where a card that is right
        expects {score.expected_bits.toFixed(2)} and a coin has 1.00. Less is better.
      </p>
      <table>
        <caption class="spoken">Predicted and read, {whose}</caption>
        <thead><tr><th scope="col">Predicted between</th><th scope="col">On average</th><th scope="col">Read as drawn</th></tr></thead>
        <tbody>
          {score.bins.map((bin) => (
            <tr key={bin.from}>
              <th scope="row">{percent(bin.from)} and {percent(bin.to)}</th><td>{percent(bin.predicted)}</td><td>{readWords(bin.read)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** Hits against false alarms as a line and as a table; area with its error. */
function RocShown({roc}: {readonly roc: Roc}) {
  const at = (x: number, y: number) => `${(20 + 260 * x).toFixed(1)},${(280 - 260 * y).toFixed(1)}`;
  const line = [at(1, 1), ...roc.points.map((point) => at(point.false_alarms, point.hits)), at(0, 0)].join(' ');
  return (
    <figure>
      <svg viewBox="0 0 300 300" width="300" height="300" role="img" aria-label="Hits against false alarms, in numbers below">
        <rect x="20" y="20" width="260" height="260" class="roc-frame" />
        <line x1="20" y1="280" x2="280" y2="20" class="roc-chance" />
        <polyline points={line} class="roc-line" />
        {roc.points.map((point) => <circle key={point.misses} cx={20 + 260 * point.false_alarms} cy={280 - 260 * point.hits} r="4" />)}
      </svg>
      <figcaption>
        Area {roc.area.toFixed(3)} ± {roc.error.toFixed(3)} (standard error), {roc.with} with and {roc.without} without. Across: share without
        that meets the rule; upward: share with.{' '}
        {roc.points.map((point) => `${point.misses} or more: ${percent(point.hits)} hits, ${percent(point.false_alarms)} false alarms`).join('; ')}.
      </figcaption>
    </figure>
  );
}
