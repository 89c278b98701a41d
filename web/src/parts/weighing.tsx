// How an outcome is weighed: evidence first, then the prior, then residual separation.

import type {KindProbability, ObserverEvidence, SeparationProbability} from '../model/wire.ts';
import {observerName, probabilityText, relativeText, signedText} from '../model/words.ts';
import {Bar} from './bar.tsx';

/** Observers, best first, with how well each explains the answers relative to the best. */
export function EvidenceTable({evidence}: {readonly evidence: readonly ObserverEvidence[]}) {
  return (
    <table>
      <caption>How well each observer explains these answers, the best set to 1</caption>
      <thead>
        <tr><th scope="col">Observer</th><th scope="col">Relative support</th><th scope="col" class="number">log₁₀ likelihood</th></tr>
      </thead>
      <tbody>
        {evidence.map(({observer, relative, log10_likelihood}) => (
          <tr key={observer}>
            <th scope="row">{observerName(observer)}</th>
            <td><Bar share={relative} label={relativeText(relative)} /></td>
            <td class="number">{signedText(log10_likelihood)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** The kinds: what the answers alone say, how common each is, and both together. */
export function KindsTable({kinds}: {readonly kinds: readonly KindProbability[]}) {
  return (
    <table>
      <caption>Probability of each kind of eye</caption>
      <thead>
        <tr>
          <th scope="col">Kind</th><th scope="col">Answers alone</th><th scope="col">How common (prior)</th>
          <th scope="col">Both together</th>
        </tr>
      </thead>
      <tbody>
        {kinds.map(({kind, evidence_only, prior, posterior}) => (
          <tr key={kind}>
            <th scope="row">{observerName(kind)}</th>
            {[evidence_only, prior, posterior].map((probability, column) => (
              <td key={column}><Bar share={probability} label={probabilityText(probability)} /></td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** With more steps than this, a number over each bar would not fit; they then stand in a list below. */
const MOST_NUMBERED = 12;
/** Smaller probabilities are said but not written over their bar: their digits would crowd out the others. */
const LEAST_WRITTEN = 0.005;
/** The separations that get their label in any case: normal, the standard classes, and the dichromat. */
const LANDMARKS_NM = [28, 20, 10, 5, 0];

/** Probability over residual separation within one kind, from 28 nm (normal) down to 0 nm (dichromat). */
export function SeparationStrip({kind, rows}: {readonly kind: string; readonly rows: readonly SeparationProbability[]}) {
  const ordered = [...rows].sort((a, b) => b.separation_nm - a.separation_nm);
  const highest = Math.max(...ordered.map((row) => row.probability), Number.MIN_VALUE);
  const numbered = ordered.length <= MOST_NUMBERED;
  return (
    <figure class="strip">
      <figcaption>If {kind}: residual separation of the two long-wave pigments, nm</figcaption>
      <ol class="strip-bars">
        {ordered.map(({separation_nm, probability}) => (
          <li key={separation_nm}>
            <span class="strip-number">
              <span class={numbered && probability >= LEAST_WRITTEN ? undefined : 'spoken'}>{probabilityText(probability)}</span>
              <span class="spoken"> at </span>
            </span>
            <span class="strip-bar" aria-hidden="true" style={{height: `${(100 * probability) / highest}%`}} />
            <span class="strip-nm">
              <span class={LANDMARKS_NM.includes(separation_nm) ? undefined : numbered ? 'where-wide' : 'spoken'}>{separation_nm}</span>
              <span class="spoken"> nm</span>
            </span>
          </li>
        ))}
      </ol>
      <p class="strip-ends aside" aria-hidden="true"><span>← towards 28: normal</span><span>0: dichromat</span></p>
      {!numbered && (
        <details>
          <summary>Numbers<span class="spoken">, {kind}</span></summary>
          <ul class="strip-list">
            {ordered.map(({separation_nm, probability}) => <li key={separation_nm}>{separation_nm} nm: {probabilityText(probability)}</li>)}
          </ul>
        </details>
      )}
    </figure>
  );
}
