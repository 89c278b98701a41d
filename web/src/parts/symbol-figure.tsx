// A symbol on a button or in a list: a digit or a gate in words, a ring drawn.

import {gapDegrees, symbolName} from '../model/symbols.ts';

/** The proportions of the rings on the plates (plate/ring.h): of a ring of diameter 1, its stroke and its gap. */
const STROKE = 0.24;
const GAP = 0.36;

/** A closed ring but for one notch with parallel sides at the top, as the plates draw it. */
function ringPath(): string {
  const outer = 0.5, inner = 0.5 - STROKE, half = GAP / 2;
  const outerY = -Math.sqrt(outer * outer - half * half), innerY = -Math.sqrt(inner * inner - half * half);
  return `M${half} ${outerY}A${outer} ${outer} 0 1 1 ${-half} ${outerY}L${-half} ${innerY}A${inner} ${inner} 0 1 0 ${half} ${innerY}Z`;
}

const RING = ringPath();

export function SymbolFigure({symbol}: {readonly symbol: string}) {
  const degrees = gapDegrees(symbol);
  if (degrees === null) return <span class={symbol.length > 1 ? 'figure words' : 'figure'}>{symbol}</span>;
  return (
    <svg class="figure ring" viewBox="-0.52 -0.52 1.04 1.04" role="img" aria-label={symbolName(symbol)}>
      <path d={RING} transform={`rotate(${degrees})`} />
    </svg>
  );
}
