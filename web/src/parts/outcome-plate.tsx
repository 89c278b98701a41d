import {useEffect, useRef} from 'preact/hooks';

import type {Picture} from '../model/picture.ts';
import {titleOf} from '../model/sitting.ts';
import {symbolName} from '../model/symbols.ts';
import type {OutcomePlate, Prediction} from '../model/wire.ts';
import {answeredText, asSentence, designText, lineText, observerName, probabilityText, readsText, symbolsText, viewErrorText} from '../model/words.ts';
import {Bar} from './bar.tsx';
import {StillPlate} from './plate-canvas.tsx';

/** One plate of the outcome: as drawn, as another observer gets it, what was answered, and who was predicted to read it. */
export function OutcomePlateCard({plate, observer, original, seen, onNear}: {
  readonly plate: OutcomePlate;
  /** The observer chosen for all plates. */
  readonly observer: string;
  readonly original: Picture | undefined;
  readonly seen: Picture | undefined;
  /** The card comes near the window: its pictures are wanted. */
  readonly onNear: () => void;
}) {
  const card = useRef<HTMLElement>(null);
  useEffect(() => {
    const watch = new IntersectionObserver((entries) => {
      if (entries.some((entry) => entry.isIntersecting)) {
        watch.disconnect();
        onNear();
      }
    }, {rootMargin: '600px'});
    if (card.current !== null) watch.observe(card.current);
    return () => watch.disconnect();
  }, [plate.item]);
  const heading = `plate-${plate.item}`;
  return (
    <article ref={card} class="card outcome-plate" aria-labelledby={heading}>
      <header>
        <h3 id={heading}>{asSentence(plate.name).slice(0, -1)}</h3>
        <p class="aside">{titleOf(plate.round)} · {designText(plate)}</p>
      </header>
      <div class="pictures">
        <figure>
          <StillPlate picture={original} label={`Plate ${plate.name} as drawn`} />
          <figcaption>as drawn</figcaption>
        </figure>
        <figure>
          <StillPlate picture={seen} label={`Plate ${plate.name} for the observer ${observerName(observer)}`} />
          <figcaption>for {observerName(observer)}{seen !== undefined && <ViewErrorLine picture={seen} observer={observer} />}</figcaption>
        </figure>
      </div>
      <div class="reading">
        <dl class="answer">
          <div><dt>Drawn</dt><dd>{symbolsText(plate.drawn, 'no figure')}</dd></div>
          <div><dt>Answered</dt><dd>{answeredText(plate)}</dd></div>
          {plate.first_symbols !== null && <div><dt>First said</dt><dd>{symbolsText(plate.first_symbols, 'no figure')}</dd></div>}
        </dl>
        {plate.hesitated && <p class="aside">Said with hesitation.</p>}
        {plate.flaw !== null && <p class="aside">{plate.flaw === 'hidden' ? 'The window was hidden or left while the plate stood' : 'The screen skipped frames while the plate stood'}: its time is not to be relied on.</p>}
        {plate.repeat && <p class="aside">Shown a second time, as the first reading was void.</p>}
        {plate.line !== null && <p class="aside">{lineText(plate.line)}</p>}
        <ReadersRow plate={plate} observer={observer} />
      </div>
    </article>
  );
}

/** The error of a view beside it: a claim about another eye never stands alone. */
function ViewErrorLine({picture, observer}: {readonly picture: Picture; readonly observer: string}) {
  if (observer === 'normal') return null;
  return (
    <span class="aside view-error">
      {picture.error === null
        ? 'its error is not yet computed for this observer'
        : `error: mean ${viewErrorText(picture.error.mean)}, largest ${viewErrorText(picture.error.largest)} (CIEDE2000 for that observer; 1 is about just noticeable)`}
    </span>
  );
}

/** For each observer: the reading predicted for it, and the probability that it reads what was drawn. */
function ReadersRow({plate, observer}: {readonly plate: OutcomePlate; readonly observer: string}) {
  const two = plate.predictions.some((prediction) => prediction.second !== null) && plate.drawn.length > 1;
  const [first = 'figure', second = 'second'] = plate.drawn.map(symbolName);
  return (
    <>
      <table class={two ? 'readers two' : 'readers'}>
        <caption>Readers: who was predicted to read it</caption>
        <thead>
          <tr>
            <th scope="col">Observer</th><th scope="col">Most likely</th><th scope="col">Reads the {first}</th>
            {two && <th scope="col">Reads the {second}</th>}
          </tr>
        </thead>
        <tbody>
          {plate.predictions.map((prediction) => (
            <tr key={prediction.observer} class={prediction.observer === observer ? 'chosen' : undefined}>
              <th scope="row">
                {observerName(prediction.observer)}
                {prediction.observer === observer && <span class="spoken"> (shown)</span>}
              </th>
              <td class="reads">{readsText(prediction.reads)}</td>
              <td><Bar share={prediction.intended} label={probabilityText(prediction.intended)} /></td>
              {two && <td><Bar share={prediction.second ?? 0} label={probabilityText(prediction.second ?? 0)} /></td>}
            </tr>
          ))}
        </tbody>
      </table>
      <details>
        <summary>Margins<span class="spoken"> of {plate.name}</span></summary>
        <dl class="margins">
          {plate.predictions.map((prediction) => <MarginLine key={prediction.observer} prediction={prediction} />)}
        </dl>
      </details>
    </>
  );
}

function MarginLine({prediction}: {readonly prediction: Prediction}) {
  return (
    <div>
      <dt>{observerName(prediction.observer)}</dt>
      <dd>
        {prediction.margins} (reads nothing {probabilityText(prediction.nothing)}, something else {probabilityText(prediction.other)})
      </dd>
    </div>
  );
}
