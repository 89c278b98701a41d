import {useState} from 'preact/hooks';

import type {Drawn} from '../model/wire.ts';

/**
 * Lies over a plate and follows the pointer while it is down: the line is drawn in white and black, so that it stands on any
 * pebble and changes none. What it says is for whoever lifts the pen; the answer row says the same without drawing.
 */
export function StrokeLayer({sidePx, open, onStroke}: {
  readonly sidePx: number;
  readonly open: boolean;
  readonly onStroke: (stroke: readonly Drawn[], atMs: number) => void;
}) {
  const [stroke, setStroke] = useState<readonly Drawn[]>([]);
  const at = (event: PointerEvent): Drawn => {
    const box = (event.currentTarget as SVGSVGElement).getBoundingClientRect();
    return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height, event.timeStamp];
  };
  const down = (event: PointerEvent) => {
    if (!open) return;
    (event.currentTarget as SVGSVGElement).setPointerCapture(event.pointerId);
    setStroke([at(event)]);
  };
  const move = (event: PointerEvent) => {
    if (open && stroke.length > 0) setStroke([...stroke, at(event)]);
  };
  const up = (event: PointerEvent) => {
    if (open && stroke.length > 0) onStroke([...stroke, at(event)], event.timeStamp);
    setStroke([]);
  };
  const points = stroke.map(([x, y]) => `${x},${y}`).join(' ');
  return (
    <svg class="stroke-layer" viewBox="0 0 1 1" style={{width: `${sidePx}px`, height: `${sidePx}px`}} aria-hidden="true"
      onPointerDown={down} onPointerMove={move} onPointerUp={up} onPointerCancel={() => setStroke([])}>
      <polyline points={points} class="under" />
      <polyline points={points} />
    </svg>
  );
}
