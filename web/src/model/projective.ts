// Plane projective maps: all chromaticity diagrams of one display's lights are projections of the same space, so four
// points known in two of them carry any other point across. Plain geometry; no formula of a diagram is repeated here.

export type Point = readonly [number, number];
export type FourPoints = readonly [Point, Point, Point, Point];
type Row = readonly [number, number, number];
type Matrix = readonly [Row, Row, Row];

/** The map that takes each of `from` to its fellow in `to`; no three points of either may lie on a line. */
export function projectiveMap(from: FourPoints, to: FourPoints): (point: Point) => Point {
  const map = times(basisOf(to), adjugate(basisOf(from)));
  return ([x, y]) => {
    const [a, b, c] = apply(map, [x, y, 1]);
    return [a / c, b / c];
  };
}

/** Takes the three unit vectors and their sum to four points. */
function basisOf([a, b, c, d]: FourPoints): Matrix {
  const columns: Matrix = [[a[0], b[0], c[0]], [a[1], b[1], c[1]], [1, 1, 1]];
  const weights = apply(adjugate(columns), [d[0], d[1], 1]);
  const scaled = (row: Row): Row => [row[0] * weights[0], row[1] * weights[1], row[2] * weights[2]];
  return [scaled(columns[0]), scaled(columns[1]), scaled(columns[2])];
}

/** The inverse but for a factor, which projections do not see. */
function adjugate([[a, b, c], [d, e, f], [g, h, i]]: Matrix): Matrix {
  return [[e * i - f * h, c * h - b * i, b * f - c * e], [f * g - d * i, a * i - c * g, c * d - a * f], [d * h - e * g, b * g - a * h, a * e - b * d]];
}

function apply(matrix: Matrix, vector: Row): Row {
  const dot = (row: Row) => row[0] * vector[0] + row[1] * vector[1] + row[2] * vector[2];
  return [dot(matrix[0]), dot(matrix[1]), dot(matrix[2])];
}

function times(left: Matrix, right: Matrix): Matrix {
  const column = (at: 0 | 1 | 2) => apply(left, [right[0][at], right[1][at], right[2][at]]);
  const [first, second, third] = [column(0), column(1), column(2)];
  return [[first[0], second[0], third[0]], [first[1], second[1], third[1]], [first[2], second[2], third[2]]];
}

/** Whether a point lies within a closed outline. */
export function within(outline: readonly Point[], [x, y]: Point): boolean {
  let inside = false;
  for (let at = 0; at < outline.length; at++) {
    const [ax, ay] = outline[at]!;
    const [bx, by] = outline[(at + 1) % outline.length]!;
    if (ay > y !== by > y && x < ax + ((y - ay) * (bx - ax)) / (by - ay)) inside = !inside;
  }
  return inside;
}
