import type {TargetedPointerEvent} from 'preact';
import {useId, useRef} from 'preact/hooks';

import {type Axis, fromPx, pathThrough, ticks, toPx} from '../model/axis.ts';
import type {ConfusionLine, Diagram, DichromatKind} from '../model/eye.ts';
import {type Point, within} from '../model/projective.ts';
import {CONE_OF, DASH, Mark, SHAPE_NAME} from './marks.tsx';
import {useWidth} from './use-width.ts';

const LEFT_PX = 44;
const RIGHT_PX = 16;
const TOP_PX = 14;
const BOTTOM_PX = 42;
const MOST_PX = 560;
/** Wavelength labels closer than this to the last one are left out. */
const LABEL_GAP_PX = 26;
/** A key moves the point by this share of an axis. */
const KEY_STEP = 0.01;

/**
 * A chromaticity diagram: locus, the display's triangle, white, confusion lines through a point that can be picked, and
 * where they meet. Everything on it was computed by the program.
 */
export function DiagramView({diagram, at, onPick, onDragging}: {
  readonly diagram: Diagram;
  /** The point asked for, in this diagram; the lines go through the point last answered. */
  readonly at: Point;
  /** A place in this diagram. */
  readonly onPick: (place: Point) => void;
  readonly onDragging: (dragging: boolean) => void;
}) {
  const frame = useRef<HTMLDivElement>(null);
  const widthPx = Math.min(MOST_PX, useWidth(frame));
  return <div ref={frame} class="diagram-frame">{widthPx > 0 && <Drawing {...{diagram, at, onPick, onDragging, widthPx}} />}</div>;
}

function Drawing({diagram, at, onPick, onDragging, widthPx}: Parameters<typeof DiagramView>[0] & {readonly widthPx: number}) {
  const clip = useId();
  const svg = useRef<SVGSVGElement>(null);
  const pointer = useRef<number | null>(null);
  const {range: [[left, right], [low, high]], axes, locus, triangle, white, lines, copunctal} = diagram;
  // Square cells where both axes are of one kind; the cone diagram's axes are not, and it fills a square.
  const alike = diagram.name !== 'macleod-boynton';
  const plotPx = widthPx - LEFT_PX - RIGHT_PX;
  const tallPx = alike ? (plotPx * (high - low)) / (right - left) : plotPx;
  const heightPx = Math.round(tallPx + TOP_PX + BOTTOM_PX);
  const across: Axis = {from: left, to: right, fromPx: LEFT_PX, toPx: widthPx - RIGHT_PX};
  const up: Axis = {from: low, to: high, fromPx: heightPx - BOTTOM_PX, toPx: TOP_PX};
  const place = ([x, y]: Point): Point => [toPx(across, x), toPx(up, y)];
  const outline = locus.map(([, x, y]): Point => [x, y]);
  const [atX, atY] = place(at);
  const [whiteX, whiteY] = place(white);

  const pick = (wanted: Point) => {
    // The cone diagram leaves the short waves far above its range, where its outline is not a region to test against.
    const inRange = wanted[0] > left && wanted[0] < right && wanted[1] > low && wanted[1] < high;
    if (inRange && (!alike || within(outline, wanted))) onPick(wanted);
  };
  const pickAt = (event: TargetedPointerEvent<SVGElement>) => {
    const box = svg.current!.getBoundingClientRect();
    pick([fromPx(across, event.clientX - box.left), fromPx(up, event.clientY - box.top)]);
  };
  const take = (event: TargetedPointerEvent<SVGElement>) => {
    if (event.button !== 0) return;
    event.preventDefault();
    event.currentTarget.setPointerCapture(event.pointerId);
    pointer.current = event.pointerId;
    onDragging(true);
    pickAt(event);
  };
  const drag = (event: TargetedPointerEvent<SVGElement>) => {
    if (pointer.current === event.pointerId) pickAt(event);
  };
  const letGo = (event: TargetedPointerEvent<SVGElement>) => {
    if (pointer.current !== event.pointerId) return;
    pointer.current = null;
    onDragging(false);
  };
  const press = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const step = KEY_STEP * (event.shiftKey ? 5 : 1);
    const by: {readonly [key: string]: Point} = {ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step]};
    const [dx, dy] = by[event.key] ?? [0, 0];
    if (dx === 0 && dy === 0) return;
    event.preventDefault();
    pick([at[0] + dx * (right - left), at[1] + dy * (high - low)]);
  };

  return (
    <svg ref={svg} class="diagram" width={widthPx} height={heightPx} viewBox={`0 0 ${widthPx} ${heightPx}`} role="group" aria-label="Chromaticity diagram">
      <clipPath id={clip}><rect x={LEFT_PX} y={TOP_PX} width={plotPx} height={tallPx} /></clipPath>
      <g class="axis" aria-hidden="true">
        <path d={`M${LEFT_PX} ${TOP_PX}V${up.fromPx}H${widthPx - RIGHT_PX}`} />
        {ticks(across, 5).map((value) => (
          <g key={value}>
            <path d={`M${toPx(across, value)} ${up.fromPx}v5`} />
            <text x={toPx(across, value)} y={up.fromPx + 19} text-anchor="middle">{shortNumber(value)}</text>
          </g>
        ))}
        {ticks(up, 5).map((value) => (
          <g key={value}>
            <path d={`M${LEFT_PX} ${toPx(up, value)}h-5`} />
            <text x={LEFT_PX - 9} y={toPx(up, value) + 5} text-anchor="end">{shortNumber(value)}</text>
          </g>
        ))}
        <text class="axis-name" x={LEFT_PX + plotPx / 2} y={heightPx - 5} text-anchor="middle">{axes[0]}</text>
        <text class="axis-name" x={11} y={TOP_PX + tallPx / 2} text-anchor="middle">{axes[1]}</text>
      </g>
      <rect
        class="plot-area" x={LEFT_PX} y={TOP_PX} width={plotPx} height={tallPx}
        onPointerDown={take} onPointerMove={drag} onPointerUp={letGo} onPointerCancel={letGo}
      />
      <g clip-path={`url(#${clip})`} class="drawn" aria-hidden="true">
        <path class="locus" d={pathThrough(outline.map(place)) + (alike ? 'Z' : '')} />
        <Wavelengths locus={locus} place={place} white={alike ? [whiteX, whiteY] : null} />
        <path class="triangle" d={`${pathThrough(triangle.map(place))}Z`} />
        {lines.map((line) => <LineThrough key={line.kind} line={line} place={place} />)}
        <path class="white" d={`M${whiteX - 7} ${whiteY}h14M${whiteX} ${whiteY - 7}v14`} />
      </g>
      <g class="drawn" aria-hidden="true">
        {copunctal.map(({kind, point, inside}) => {
          if (point === null || !inside) return null;
          const [x, y] = place(point);
          const nearEdge = x > widthPx - 90;
          return (
            <g key={kind} class="copunctal">
              <Mark cone={CONE_OF[kind]} x={x} y={y} radius={6} />
              <text x={nearEdge ? x - 11 : x + 11} y={y > up.fromPx - 14 ? y - 9 : y + 5} text-anchor={nearEdge ? 'end' : 'start'}>{kind}</text>
            </g>
          );
        })}
      </g>
      <g
        class="picked" role="slider" tabindex={0} aria-label={`Picked point; arrow keys move it in ${axes[0]} and ${axes[1]}`}
        aria-valuemin={left} aria-valuemax={right} aria-valuenow={at[0]} aria-valuetext={`${axes[0]} ${at[0].toFixed(3)}, ${axes[1]} ${at[1].toFixed(3)}`}
        onKeyDown={press} onPointerDown={take} onPointerMove={drag} onPointerUp={letGo} onPointerCancel={letGo}
      >
        <circle class="halo" cx={atX} cy={atY} r={13} />
        <circle class="grip-area" cx={atX} cy={atY} r={16} />
        <circle class="ring" cx={atX} cy={atY} r={8} />
        <circle class="dot" cx={atX} cy={atY} r={2} />
      </g>
    </svg>
  );
}

/** A line through the picked point; heavy if this observer confuses along it. */
function LineThrough({line: {kind, own, points}, place}: {readonly line: ConfusionLine; readonly place: (point: Point) => Point}) {
  return <path class={own ? 'confusion own' : 'confusion'} d={pathThrough(points.map(place))} stroke-dasharray={DASH[CONE_OF[kind]]} />;
}

/**
 * Ticks every 10 nm with as many labels as have room, on the side of the white; in the cone diagram, whose locus runs along
 * its lower edge, above it.
 */
function Wavelengths({locus, place, white}: {
  readonly locus: Diagram['locus'];
  readonly place: (point: Point) => Point;
  readonly white: Point | null;
}) {
  let last: Point | null = null;
  return (
    <>
      {locus.filter(([nm]) => nm % 10 === 0).map(([nm, x, y]) => {
        const [px, py] = place([x, y]);
        const [dx, dy] = white === null ? [0, 1] : direction(white, [px, py]);
        // Labels stand inside, where nothing cuts them off.
        const label: Point = [px - 17 * dx, py - 17 * dy];
        const room = nm % 20 === 0 && nm >= 440 && nm <= 660 && (last === null || Math.hypot(label[0] - last[0], label[1] - last[1]) >= LABEL_GAP_PX);
        if (room) last = label;
        return (
          <g key={nm}>
            <path class="tick" d={`M${px} ${py}l${-6 * dx} ${-6 * dy}`} />
            {room && <text x={label[0]} y={label[1] + 4} text-anchor="middle">{nm}</text>}
          </g>
        );
      })}
    </>
  );
}

function direction([fromX, fromY]: Point, [toX, toY]: Point): Point {
  const far = Math.hypot(toX - fromX, toY - fromY);
  return far === 0 ? [0, 1] : [(toX - fromX) / far, (toY - fromY) / far];
}

function shortNumber(value: number): string {
  return String(Number(value.toPrecision(3))).replace(/^(-?)0\./, '$1.');
}

/** What the lines and marks of a diagram are, in words; a point outside the drawing is said here. */
export function DiagramKey({diagram}: {readonly diagram: Diagram}) {
  const meets = (kind: DichromatKind) => {
    const found = diagram.copunctal.find((candidate) => candidate.kind === kind);
    if (found === undefined) return '';
    if (found.point === null) return 'they meet at infinity';
    const where = found.point.map((value) => value.toFixed(3).replace('-', '−')).join(', ');
    return found.inside ? `they meet at ${where}` : `they meet outside of the drawing, at ${where}`;
  };
  return (
    <ul class="key-list">
      {diagram.lines.map(({kind, own, angle_deg}) => (
        <li key={kind}>
          <svg width="44" height="16" viewBox="0 0 44 16" aria-hidden="true" class="key-mark">
            <path class={own ? 'confusion own' : 'confusion'} d="M1 8H43" stroke-dasharray={DASH[CONE_OF[kind]]} />
            <Mark cone={CONE_OF[kind]} x={22} y={8} radius={5} />
          </svg>
          <span>
            <strong>{kind}</strong> ({SHAPE_NAME[CONE_OF[kind]]}){own ? ', this observer’s own' : ''}: {angle_deg.toFixed(1).replace('-', '−')}°; {meets(kind)}
          </span>
        </li>
      ))}
      <li class="aside">Outline: spectral locus, ticks every 10 nm. Triangle: this display. Cross: its white. Ring: the picked point.</li>
    </ul>
  );
}
