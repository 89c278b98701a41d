// A linear axis of a drawing: from values to pixels and back, and where its ticks stand.

export interface Axis {
  readonly from: number;
  readonly to: number;
  readonly fromPx: number;
  readonly toPx: number;
}

export function toPx({from, to, fromPx, toPx: end}: Axis, value: number): number {
  return fromPx + ((value - from) / (to - from)) * (end - fromPx);
}

export function fromPx({from, to, fromPx: start, toPx: end}: Axis, px: number): number {
  return from + ((px - start) / (end - start)) * (to - from);
}

/** Round values within the axis, about as many as asked for, at steps of 1, 2 or 5 times a power of ten. */
export function ticks({from, to}: Axis, about: number): readonly number[] {
  const raw = Math.abs(to - from) / about;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * ([1, 2, 5].find((factor) => factor * power >= raw) ?? 10);
  const first = Math.ceil(Math.min(from, to) / step - 1e-9);
  const last = Math.floor(Math.max(from, to) / step + 1e-9);
  return Array.from({length: last - first + 1}, (_, at) => Number(((first + at) * step).toPrecision(12)));
}

/** An SVG path through points. */
export function pathThrough(points: readonly (readonly [number, number])[]): string {
  return points.map(([x, y], at) => `${at === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');
}
