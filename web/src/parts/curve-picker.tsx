import type {TargetedPointerEvent} from 'preact';
import {useRef} from 'preact/hooks';

import {type Axis, fromPx, pathThrough, ticks, toPx} from '../model/axis.ts';
import {type Eye, highestNm} from '../model/eye.ts';
import {afterKey, type Cone, type Deviation, dragged, KIND_OF, moved, RANGE, valueOf, valueText} from '../model/observer.ts';
import {DASH, Mark} from './marks.tsx';
import {useWidth} from './use-width.ts';

const HEIGHT_PX = 260;
/** Room above the curves for the two handles that move sideways, one above the other so that neither hides the other. */
const TOP_PX = 72;
const BOTTOM_PX = 30;
const SIDE_PX = 20;
const HANDLE_PX = 13;
const HANDLE_Y: {readonly [Of in 'l' | 'm']: number} = {l: 18, m: 52};
const CONES: readonly Cone[] = ['l', 'm', 's'];
const HOW: {readonly [Of in Cone]: string} = {
  l: 'L cone curve: towards M for a protan', m: 'M cone curve: towards L for a deutan', s: 'S cone curve: down for a tritan',
};
const ARROW: {readonly [Of in Cone]: string} = {l: '←', m: '→', s: '↓'};

/**
 * The three cone curves of an observer, each of which can be taken and moved. Drawn are the curves the program computed;
 * the sliders say what was asked for. Thin lines: a normal observer of the same age and field.
 */
export function CurvePicker({eye, deviation, onMove, onDragging}: {
  readonly eye: Eye;
  readonly deviation: Deviation;
  readonly onMove: (deviation: Deviation) => void;
  readonly onDragging: (dragging: boolean) => void;
}) {
  const frame = useRef<HTMLDivElement>(null);
  const widthPx = useWidth(frame);
  return (
    <div ref={frame} class="curves-frame" style={{height: `${HEIGHT_PX}px`}}>
      {widthPx > 0 && <Drawing eye={eye} deviation={deviation} widthPx={widthPx} onMove={onMove} onDragging={onDragging} />}
    </div>
  );
}

interface Grip {
  readonly cone: Cone;
  readonly pointer: number;
  readonly from: number;
  readonly xPx: number;
  readonly yPx: number;
}

function Drawing({eye, deviation, widthPx, onMove, onDragging}: Parameters<typeof CurvePicker>[0] & {readonly widthPx: number}) {
  const grip = useRef<Grip | null>(null);
  const {nm, curves, normal} = eye;
  const across: Axis = {from: nm[0]!, to: nm.at(-1)!, fromPx: SIDE_PX, toPx: widthPx - SIDE_PX};
  const up: Axis = {from: 0, to: 1, fromPx: HEIGHT_PX - BOTTOM_PX, toPx: TOP_PX};
  const peaksApartNm = highestNm(nm, normal.l) - highestNm(nm, normal.m);
  const path = (curve: readonly number[], height: number) =>
    pathThrough(nm.map((wavelength, at) => [toPx(across, wavelength), toPx(up, height * curve[at]!)] as const));
  // A pigment's density does not show in a curve whose peak is 1, so S is drawn as high as its share of the normal's.
  const heightOf = (cone: Cone) => (cone === 's' && eye.kind === 'tritan' ? eye.s_density : 1);
  const peakOf = (cone: Cone) => eye.peaks_nm[cone] ?? highestNm(nm, normal[cone]);

  const take = (cone: Cone) => (event: TargetedPointerEvent<SVGElement>) => {
    if (event.button !== 0) return;
    event.preventDefault();
    const group = event.currentTarget;
    group.setPointerCapture(event.pointerId);
    group.focus({preventScroll: true});
    grip.current = {cone, pointer: event.pointerId, from: valueOf(deviation, cone), xPx: event.clientX, yPx: event.clientY};
    onDragging(true);
  };
  const drag = (event: TargetedPointerEvent<SVGElement>) => {
    const held = grip.current;
    if (held === null || held.pointer !== event.pointerId) return;
    const by = {
      nm: fromPx(across, event.clientX) - fromPx(across, held.xPx), height: fromPx(up, event.clientY) - fromPx(up, held.yPx),
    };
    onMove(moved(held.cone, dragged(held.cone, held.from, by, peaksApartNm)));
  };
  const letGo = (event: TargetedPointerEvent<SVGElement>) => {
    if (grip.current?.pointer !== event.pointerId) return;
    grip.current = null;
    onDragging(false);
  };
  const press = (cone: Cone) => (event: KeyboardEvent) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const value = afterKey(cone, valueOf(deviation, cone), event.key);
    if (value === null) return;
    event.preventDefault();
    onMove(moved(cone, value));
  };

  return (
    <svg class="curves" width={widthPx} height={HEIGHT_PX} viewBox={`0 0 ${widthPx} ${HEIGHT_PX}`} role="group" aria-label="Cone curves; each is a slider">
      <g class="axis" aria-hidden="true">
        <path d={`M${SIDE_PX} ${up.fromPx}H${widthPx - SIDE_PX}`} />
        {ticks(across, widthPx < 480 ? 4 : 7).filter((at) => toPx(across, at) < widthPx - SIDE_PX - 32).map((at) => (
          <g key={at}>
            <path d={`M${toPx(across, at)} ${up.fromPx}v5`} />
            <text x={toPx(across, at)} y={up.fromPx + 20} text-anchor="middle">{at}</text>
          </g>
        ))}
        <text x={widthPx - SIDE_PX} y={up.fromPx + 20} text-anchor="end">nm</text>
      </g>
      <g class="normal-curves" aria-hidden="true">
        {CONES.map((cone) => <path key={cone} d={path(normal[cone], 1)} />)}
      </g>
      {CONES.map((cone) => {
        const d = path(curves[cone], heightOf(cone));
        const x = toPx(across, peakOf(cone));
        const top = toPx(up, heightOf(cone));
        const y = cone === 's' ? top : HANDLE_Y[cone];
        const value = valueOf(deviation, cone);
        return (
          <g
            key={cone} class={deviation.kind === KIND_OF[cone] ? 'curve moved' : 'curve'} role="slider" tabindex={0} data-cone={cone}
            aria-label={HOW[cone]} aria-valuemin={0} aria-valuemax={RANGE[cone].most} aria-valuenow={value} aria-valuetext={valueText(cone, value)}
            aria-orientation={cone === 's' ? 'vertical' : 'horizontal'}
            onPointerDown={take(cone)} onPointerMove={drag} onPointerUp={letGo} onPointerCancel={letGo} onLostPointerCapture={letGo}
            onKeyDown={press(cone)}
          >
            <path class="grip" d={d} />
            <path class="line" d={d} stroke-dasharray={DASH[cone]} />
            {cone !== 's' && <path class="leader" d={`M${x} ${y + HANDLE_PX}V${top}`} />}
            <circle class="grip-area" cx={x} cy={y} r={22} />
            <circle class="halo" cx={x} cy={y} r={HANDLE_PX + 6} />
            <Mark cone={cone} x={x} y={y} radius={HANDLE_PX} />
            <text class="letter" x={x} y={cone === 's' ? y + 7 : y + 5} text-anchor="middle" aria-hidden="true">{cone.toUpperCase()}</text>
            <text class="arrow" x={cone === 'l' ? x - 26 : x + 26} y={y + 6} text-anchor="middle" aria-hidden="true">{ARROW[cone]}</text>
          </g>
        );
      })}
    </svg>
  );
}

/** What the dashes and shapes mean, in words; printed with the picture. */
export function CurveKey({tritan}: {readonly tritan: boolean}) {
  return (
    <p class="prose">
      The curves: sensitivity of each kind of cone to energy at the cornea, its peak 1, over wavelength: L solid with a circle, M dashed with a square,
      S dotted with a triangle. Thin grey lines: a normal observer of the same age and field.
      {tritan && ' S is drawn as high as its pigment’s density is of the normal one.'}
    </p>
  );
}

