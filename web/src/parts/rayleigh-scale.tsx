import {useRef} from 'preact/hooks';

import {type Axis, toPx} from '../model/axis.ts';
import type {Rayleigh} from '../model/eye.ts';
import {useWidth} from './use-width.ts';

const HEIGHT_PX = 96;
const SIDE_PX = 24;
const LINE_PX = 50;

/** Mixtures of a red and a green light that look like a yellow one: the accepted range, the match, the normal's match. */
export function RayleighScale({rayleigh}: {readonly rayleigh: Rayleigh}) {
  const frame = useRef<HTMLDivElement>(null);
  const widthPx = useWidth(frame);
  const axis: Axis = {from: 0, to: 1, fromPx: SIDE_PX, toPx: widthPx - SIDE_PX};
  const [low, high] = rayleigh.range;
  const [fromX, toX, match, normal] = [toPx(axis, low), toPx(axis, high), toPx(axis, rayleigh.x), toPx(axis, rayleigh.normal.x)];
  return (
    <div ref={frame} class="rayleigh-frame" style={{height: `${HEIGHT_PX}px`}}>
      {widthPx > 0 && (
        <svg class="rayleigh" width={widthPx} height={HEIGHT_PX} viewBox={`0 0 ${widthPx} ${HEIGHT_PX}`} aria-hidden="true">
          <path class="scale" d={`M${SIDE_PX} ${LINE_PX}H${widthPx - SIDE_PX}`} />
          {[0, 0.25, 0.5, 0.75, 1].map((value) => (
            <g key={value} class="axis">
              <path d={`M${toPx(axis, value)} ${LINE_PX + 12}v5`} />
              <text x={toPx(axis, value)} y={LINE_PX + 31} text-anchor={value === 0 ? 'start' : value === 1 ? 'end' : 'middle'}>
                {value === 0 ? '0 all green' : value === 1 ? 'all red 1' : widthPx < 420 && value !== 0.5 ? '' : String(value).replace('0.', '.')}
              </text>
            </g>
          ))}
          <rect class="accepted" x={fromX} y={LINE_PX - 9} width={Math.max(2, toX - fromX)} height={18} />
          <path class="normal-match" d={`M${normal} ${LINE_PX - 24}V${LINE_PX + 12}`} />
          <text x={normal} y={LINE_PX - 30} text-anchor="middle">normal</text>
          <path class="match" d={`M${match} ${LINE_PX - 11}l11 11l-11 11l-11 -11Z`} />
        </svg>
      )}
    </div>
  );
}
