// Pictures as an observer gets them: original and view side by side with its error, and the strip of separations.

import type {SeenPicture} from '../api/client.ts';
import {STRIP_NM} from '../model/observer.ts';
import type {Picture} from '../model/picture.ts';
import {viewErrorText} from '../model/words.ts';
import {StillPlate} from './plate-canvas.tsx';

/** The picture as it is, and as the observer gets it, with how it was computed and how far that is off. */
export function PicturePair({original, seen, words}: {
  readonly original: Picture | undefined;
  readonly seen: SeenPicture | undefined;
  readonly words: string;
}) {
  return (
    <div class="pair">
      <figure>
        <StillPlate picture={original} label="The picture, original" look="still-plate wide" />
        <figcaption><strong>Original</strong></figcaption>
      </figure>
      <figure>
        <StillPlate picture={seen?.picture} label={`The picture as computed for: ${words}`} look="still-plate wide" />
        <figcaption><strong>As this observer gets it</strong>{seen !== undefined && <span class="view-error">{auditWords(seen)}</span>}</figcaption>
      </figure>
    </div>
  );
}

/** The error of a view in just noticeable differences, and its method. */
export function auditWords({picture: {error}, method}: SeenPicture): string {
  const how = method === null ? '' : `Method: ${method}. `;
  if (error === null) return `${how}No error is stated.`;
  const {mean, p95, largest} = error;
  return `${how}Error: mean ${viewErrorText(mean)}, 95 % below ${viewErrorText(p95)}, largest ${viewErrorText(largest)}; about 1 is just noticeable.`;
}

/** The same picture for one kind at 28, 20, 10, 5 and 0 nm. */
export function SeparationPictures({kind, pictures}: {
  readonly kind: 'protan' | 'deutan';
  /** In the order of the separations; undefined while on its way. */
  readonly pictures: readonly (Picture | undefined)[];
}) {
  return (
    <figure class="separation-pictures">
      <figcaption><strong>{kind}</strong>, residual separation in nm</figcaption>
      <ol>
        {STRIP_NM.map((nm, at) => (
          <li key={nm}>
            <StillPlate picture={pictures[at]} label={`The picture as computed for a ${kind} with a residual separation of ${nm} nm`} look="still-plate small" />
            <span>{nm}<span class="spoken"> nm</span>{nm === 28 ? ' normal' : ''}</span>
          </li>
        ))}
      </ol>
    </figure>
  );
}
