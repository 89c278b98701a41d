import {useEffect, useState} from 'preact/hooks';

import type {Picture} from '../model/picture.ts';
import type {Outcome, OutcomePlate, ToldOutcome, Trouble, UntoldOutcome} from '../model/wire.ts';
import {asSentence, cautionText, observerName, symbolsText, verdictText} from '../model/words.ts';
import {CollectCode} from '../parts/collect-code.tsx';
import {DeleteSitting} from '../parts/delete-sitting.tsx';
import {DisplayStatus} from '../parts/display-status.tsx';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {OutcomePlateCard} from '../parts/outcome-plate.tsx';
import {EvidenceTable, KindsTable, SeparationStrip} from '../parts/weighing.tsx';
import {api, go} from './browser.ts';
import {useScreen} from './display-watch.ts';
import {PageFrame} from './frame.tsx';

const FIRST_OBSERVER = 'protan:0';

/** `/sitting/:id/outcome`: nothing unless it was asked for; then evidence first, the prior second, every plate third. */
export function OutcomePage({sittingId}: {readonly sittingId: string}) {
  const [outcome, setOutcome] = useState<Outcome | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const screen = useScreen();
  // Off the record nothing is kept, so there is nothing to come back to with a code.
  const [offRecord, setOffRecord] = useState<boolean | null>(null);
  const [deletion, setDeletion] = useState<'not asked' | 'asking' | 'busy' | 'done'>('not asked');

  async function load(): Promise<void> {
    const reply = await api.outcome(sittingId);
    setTrouble(reply.ok ? null : reply.trouble);
    if (reply.ok) setOutcome(reply.value);
    else if (reply.trouble.status === 409) go({page: 'sitting', sitting: sittingId}, true);
  }

  async function choose(tell: 'tell' | 'dont_tell'): Promise<void> {
    const reply = await api.choose(sittingId, tell);
    if (reply.ok) await load();
    else setTrouble(reply.trouble);
  }

  async function deleteSitting(): Promise<void> {
    setDeletion('busy');
    const reply = await api.deleteSitting(sittingId);
    const gone = reply.ok || reply.trouble.status === 404;
    setDeletion(gone ? 'done' : 'asking');
    setTrouble(reply.ok || gone ? null : reply.trouble);
  }

  useEffect(() => {
    void load();
    void api.sitting(sittingId).then((reply) => { if (reply.ok) setOffRecord(reply.value.off_record); });
  }, [sittingId]);

  if (deletion === 'done') {
    return (
      <PageFrame heading="Deleted">
        <p>The sitting and its answers have been removed. Nothing of it is kept here.</p>
        <p><a class="button" href="/">To the start page</a></p>
      </PageFrame>
    );
  }
  const foot = (
    <>
      <DisplayStatus screen={screen} />
      {offRecord === false && <CollectCode onMake={() => api.newCollectCode(sittingId)} />}
      {offRecord === true && <p class="card prose">Off the record: nothing of this sitting is stored. It is forgotten when the program ends, or at once when you delete it.</p>}
      <footer class="page-foot">
        <DeleteSitting
          asking={deletion !== 'not asked'} busy={deletion === 'busy'}
          onAsk={() => setDeletion('asking')} onCancel={() => setDeletion('not asked')} onDelete={() => void deleteSitting()}
        />
        <a class="button" href="/">To the start page</a>
      </footer>
    </>
  );
  const note = trouble && <TroubleNote trouble={trouble} onRetry={() => void load()} />;
  if (outcome === null) return <PageFrame heading="Outcome">{note ?? <p>Working it out…</p>}</PageFrame>;
  if (!outcome.told) return <Untold outcome={outcome} stored={offRecord !== true} onChoose={(tell) => void choose(tell)}>{note}{foot}</Untold>;
  return <Told sittingId={sittingId} outcome={outcome}>{note}{foot}</Told>;
}

function Untold({outcome, stored, onChoose, children}: {
  readonly outcome: UntoldOutcome;
  readonly stored: boolean;
  readonly onChoose: (tell: 'tell' | 'dont_tell') => void;
  readonly children: preact.ComponentChildren;
}) {
  return (
    <PageFrame heading="Thank you">
      <section class="card prose" aria-label="What happens now">
        <p>{stored ? 'All your answers are saved. ' : 'All your answers were taken; none is stored. '}{outcome.waits && 'A lot decided whose eyes you answered with: that is told once the practical is closed. Come back to this address then. '}{outcome.can_choose ? 'You wanted to decide now whether to be told the outcome.' : outcome.waits ? '' : 'You asked not to be told the outcome, so nothing is said here.'}</p>
        {outcome.can_choose && (
          <>
            <p>Either choice is as good as the other, and it is final for this sitting. You can also leave it open and come back to this address.</p>
            <div class="buttons">
              <button type="button" onClick={() => onChoose('tell')}>Tell me</button>
              <button type="button" onClick={() => onChoose('dont_tell')}>Don’t tell me</button>
            </div>
          </>
        )}
      </section>
      <CautionNote label="What this is for" lines={cautionText(outcome.caution)} />
      {children}
    </PageFrame>
  );
}

function Told({sittingId, outcome, children}: {
  readonly sittingId: string;
  readonly outcome: ToldOutcome;
  readonly children: preact.ComponentChildren;
}) {
  const caution = cautionText(outcome.caution);
  return (
    <PageFrame heading="Outcome of this sitting" title="Outcome" look="wide">
      <CautionNote label="What this is for" lines={caution} />
      {outcome.lent !== null && (
        <div class="note" role="note">
          <p>{outcome.lent === 'own'
            ? 'The lot left you your own eyes.'
            : `You answered with lent eyes: ${observerName(outcome.lent)}. What follows says nothing about your own.`}</p>
        </div>
      )}
      <section aria-labelledby="fits-best">
        <h2 id="fits-best">What fits best</h2>
        <div class="card prose verdict">
          <p class="verdict-words">{outcome.interpretable ? verdictText(outcome.verdict) : 'Not interpretable'}</p>
          <p>{asSentence(outcome.summary)}</p>
        </div>
      </section>
      {outcome.interpretable && outcome.evidence.length > 0 && (
        <section aria-labelledby="evidence">
          <h2 id="evidence">First step: the evidence of the answers</h2>
          <div class="card"><EvidenceTable evidence={outcome.evidence} /></div>
        </section>
      )}
      {outcome.interpretable && outcome.kinds.length > 0 && (
        <section aria-labelledby="prior">
          <h2 id="prior">Second step: how common each kind is</h2>
          <div class="card">
            <p class="prose">{asSentence(outcome.prior_text)}</p>
            <KindsTable kinds={outcome.kinds} />
          </div>
        </section>
      )}
      {outcome.interpretable && outcome.separation.protan.length + outcome.separation.deutan.length > 0 && (
        <section aria-labelledby="separation">
          <h2 id="separation">Residual separation</h2>
          <div class="card strips">
            <SeparationStrip kind="protan" rows={outcome.separation.protan} />
            <SeparationStrip kind="deutan" rows={outcome.separation.deutan} />
          </div>
        </section>
      )}
      {outcome.assumptions.length > 0 && (
        <section aria-labelledby="assumptions">
          <h2 id="assumptions">What this assumes</h2>
          <ul class="card prose assumptions">{outcome.assumptions.map((line) => <li key={line}>{asSentence(line)}</li>)}</ul>
        </section>
      )}
      {outcome.plates.length > 0 && <Plates sittingId={sittingId} plates={outcome.plates} />}
      {outcome.again.length > 0 && <Again again={outcome.again} />}
      <CautionNote label="What this is for, once more" lines={caution} />
      {children}
    </PageFrame>
  );
}

function Again({again}: {readonly again: ToldOutcome['again']}) {
  const agreed = again.filter(({agree}) => agree).length;
  return (
    <section aria-labelledby="again">
      <h2 id="again">Plates that came again</h2>
      <p class="prose">Only the first reading was weighed. Of {again.length} plates, {agreed} were read as drawn both times or neither time: two readings of one person agree less than one may think.</p>
      <div class="scroll" tabIndex={0} role="region" aria-label="Both readings">
        <table>
          <thead><tr><th scope="col">Plate</th><th scope="col">Drawn</th><th scope="col">First</th><th scope="col">Again</th><th scope="col">Agree</th></tr></thead>
          <tbody>
            {again.map((plate) => (
              <tr key={plate.item}>
                <th scope="row">{plate.name}</th><td>{symbolsText(plate.drawn, 'no figure')}</td><td>{symbolsText(plate.before, 'no figure')}</td>
                <td>{symbolsText(plate.now, 'no figure')}</td><td>{plate.agree ? 'yes' : 'no'}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}

/** Every plate in the order shown, with one choice of observer for all of them. */
function Plates({sittingId, plates}: {readonly sittingId: string; readonly plates: readonly OutcomePlate[]}) {
  const observers = Array.from(new Set(plates.flatMap((plate) => plate.predictions.map((prediction) => prediction.observer))));
  const [observer, setObserver] = useState(observers.includes(FIRST_OBSERVER) ? FIRST_OBSERVER : observers[0] ?? 'normal');
  const [near, setNear] = useState<ReadonlySet<number>>(new Set());
  const {pictures, trouble} = useOutcomePictures(sittingId, near, observer);
  return (
    <section aria-labelledby="plates">
      <h2 id="plates">Plate by plate</h2>
      <p class="prose">
        Beside each plate stands the same plate as the chosen observer gets it: two stimuli that this observer’s cones
        could not tell apart are drawn alike. It is computed for a modelled eye and is not what any one person experiences.
      </p>
      <div class="observer-choice">
        <label for="observer">Show every plate for the observer</label>
        <select id="observer" value={observer} onChange={(event) => setObserver(event.currentTarget.value)}>
          {observers.map((candidate) => <option key={candidate} value={candidate}>{observerName(candidate)}</option>)}
        </select>
      </div>
      {trouble && <TroubleNote trouble={trouble} />}
      {plates.map((plate) => (
        <OutcomePlateCard
          key={plate.item} plate={plate} observer={observer}
          original={pictures.get(pictureKey(plate.item, 'original'))} seen={pictures.get(pictureKey(plate.item, observer))}
          onNear={() => setNear((before) => new Set([...before, plate.item]))}
        />
      ))}
    </section>
  );
}

function pictureKey(item: number, as: string): string {
  return `${item} ${as}`;
}

/** Pictures of the plates that have come near, as drawn and for one observer; those of another observer are let go. */
function useOutcomePictures(sittingId: string, near: ReadonlySet<number>, observer: string): {
  readonly pictures: ReadonlyMap<string, Picture>;
  readonly trouble: Trouble | null;
} {
  const [pictures, setPictures] = useState<ReadonlyMap<string, Picture>>(new Map());
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  useEffect(() => {
    let wanted = true;
    const load = async () => {
      const known = new Map(pictures);
      for (const key of known.keys()) if (!key.endsWith(' original') && !key.endsWith(` ${observer}`)) known.delete(key);
      for (const item of near) {
        for (const as of ['original', observer]) {
          if (known.has(pictureKey(item, as))) continue;
          const reply = await api.outcomePlate(sittingId, item, as);
          if (!wanted) return;
          setTrouble(reply.ok ? null : reply.trouble);
          if (!reply.ok) return;
          known.set(pictureKey(item, as), reply.value);
          setPictures(new Map(known));
        }
      }
    };
    void load();
    return () => { wanted = false; };
  }, [near, observer]);
  return {pictures, trouble};
}
