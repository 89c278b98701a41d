// How the three cones, and the three kinds that lack one, are told apart: by dash, shape and letter, never by hue.

import type {Cone} from '../model/observer.ts';

export const DASH: {readonly [Of in Cone]: string} = {l: 'none', m: '9 5', s: '2 4'};
export const SHAPE_NAME: {readonly [Of in Cone]: string} = {l: 'circle', m: 'square', s: 'triangle'};
/** The cone a kind deviates in. */
export const CONE_OF: {readonly [kind in 'protan' | 'deutan' | 'tritan']: Cone} = {protan: 'l', deutan: 'm', tritan: 's'};

/** A circle, square or triangle around a point. */
export function Mark({cone, x, y, radius}: {readonly cone: Cone; readonly x: number; readonly y: number; readonly radius: number}) {
  switch (cone) {
    case 'l':
      return <circle class="mark" cx={x} cy={y} r={radius} />;
    case 'm':
      return <rect class="mark" x={x - 0.88 * radius} y={y - 0.88 * radius} width={1.76 * radius} height={1.76 * radius} />;
    case 's':
      return <path class="mark" d={`M${x} ${y - 1.15 * radius}L${x + 1.15 * radius} ${y + 0.85 * radius}H${x - 1.15 * radius}Z`} />;
  }
}
