// The observer asked for on the eye page: one cone deviates at most, and everything else stays at the program's default.

/** Residual separation of the two long-wave pigments of a normal observer, nm. */
export const NORMAL_SEPARATION_NM = 28;

/** What is moved on the picture of the cone curves; only one at a time. */
export type Deviation =
  | {readonly kind: 'normal' | 's-cone-monochromat' | 'rod-monochromat'}
  | {readonly kind: 'protan' | 'deutan'; readonly separationNm: number}
  | {readonly kind: 'tritan'; readonly sDensity: number};

export type Cone = 'l' | 'm' | 's';
export type Trait = 'age' | 'field' | 'density-l' | 'density-m' | 'density-s';

/** Null: as the program takes it when nothing is said. */
export type Traits = {readonly [Of in Trait]: number | null};

export interface Wish {
  readonly deviation: Deviation;
  readonly traits: Traits;
}

const TRAITS: readonly Trait[] = ['age', 'field', 'density-l', 'density-m', 'density-s'];
const NO_TRAITS: Traits = {age: null, field: null, 'density-l': null, 'density-m': null, 'density-s': null};
export const normalWish: Wish = {deviation: {kind: 'normal'}, traits: NO_TRAITS};

/** Eyes that have a name. */
export const USUAL_EYES: readonly {readonly name: string; readonly deviation: Deviation}[] = [
  {name: 'normal', deviation: {kind: 'normal'}},
  ...(['protan', 'deutan'] as const).flatMap((kind) => [
    {name: `${kind} dichromat`, deviation: {kind, separationNm: 0}},
    ...[5, 10, 20].map((separationNm) => ({name: `anomalous ${kind}, ${separationNm} nm apart`, deviation: {kind, separationNm}})),
  ]),
  {name: 'tritan dichromat', deviation: {kind: 'tritan', sDensity: 0}},
  {name: 'S-cone monochromat', deviation: {kind: 's-cone-monochromat'}},
  {name: 'rod monochromat', deviation: {kind: 'rod-monochromat'}},
];

/** What each curve stands for when it is moved. */
export const KIND_OF: {readonly [Of in Cone]: 'protan' | 'deutan' | 'tritan'} = {l: 'protan', m: 'deutan', s: 'tritan'};

/** At most two decimals, none that say nothing. */
export function numberText(value: number): string {
  return String(Math.round(100 * value) / 100);
}

/** As the program spells it: `protan:6,age=45`. */
export function observerText(wish: Wish): string {
  return [headText(wish.deviation), ...traitTexts(wish.traits)].join(',');
}

/** The kind alone, as the program spells it. */
export function headText(deviation: Deviation): string {
  switch (deviation.kind) {
    case 'protan':
    case 'deutan':
      return `${deviation.kind}:${numberText(deviation.separationNm)}`;
    case 'tritan':
      return deviation.sDensity === 0 ? 'tritan' : `tritan,s-density=${numberText(deviation.sDensity)}`;
    default:
      return deviation.kind;
  }
}

function traitTexts(traits: Traits): readonly string[] {
  return TRAITS.flatMap((trait) => {
    const value = traits[trait];
    return value === null ? [] : [`${trait}=${numberText(value)}`];
  });
}

/** Reads the program's spelling; null where it is none. Limits are the program's to judge, not ours. */
export function wishFrom(text: string): Wish | null {
  const [head = '', ...options] = text.split(',');
  const [kind, separation, ...rest] = head.split(':');
  if (rest.length > 0) return null;
  let sDensity = 0;
  const traits: {-readonly [Of in Trait]: number | null} = {...NO_TRAITS};
  for (const option of options) {
    const [name, written = '', ...more] = option.split('=');
    const value = readNumber(written);
    if (value === null || more.length > 0) return null;
    const trait = TRAITS.find((candidate) => candidate === name);
    if (trait !== undefined) traits[trait] = value;
    else if (name === 's-density' && kind === 'tritan') sDensity = value;
    else return null;
  }
  if (kind === 'protan' || kind === 'deutan') {
    const separationNm = readNumber(separation ?? '0');
    return separationNm === null ? null : {deviation: shifted(kind, separationNm), traits};
  }
  if (separation !== undefined) return null;
  if (kind === 'tritan') return {deviation: {kind, sDensity}, traits};
  if (kind === 'normal' || kind === 's-cone-monochromat' || kind === 'rod-monochromat') return {deviation: {kind}, traits};
  return null;
}

function readNumber(written: string): number | null {
  return /^\d*\.?\d+$/.test(written) ? Number(written) : null;
}

/** A separation of 28 nm is the normal observer's, whichever curve it was that came back. */
function shifted(kind: 'protan' | 'deutan', separationNm: number): Deviation {
  return separationNm === NORMAL_SEPARATION_NM ? {kind: 'normal'} : {kind, separationNm};
}

/** How far a curve's slider reaches and how it steps: nm for L and M, share of the normal density for S. */
export const RANGE: {readonly [Of in Cone]: {readonly most: number; readonly step: number; readonly page: number; readonly grain: number}} = {
  l: {most: NORMAL_SEPARATION_NM, step: 1, page: 5, grain: 0.5},
  m: {most: NORMAL_SEPARATION_NM, step: 1, page: 5, grain: 0.5},
  s: {most: 1, step: 0.05, page: 0.2, grain: 0.01},
};

/** What a curve's slider stands at: its own deviation, or its place at rest. */
export function valueOf(deviation: Deviation, cone: Cone): number {
  if (deviation.kind !== KIND_OF[cone]) return RANGE[cone].most;
  return deviation.kind === 'tritan' ? deviation.sDensity : deviation.separationNm;
}

/** The deviation with one curve put at `value`; any other curve goes back to its place. */
export function moved(cone: Cone, value: number): Deviation {
  const {most, grain} = RANGE[cone];
  const put = Math.min(most, Math.max(0, Number((Math.round(value / grain) * grain).toFixed(2))));
  if (cone === 's') return put === most ? {kind: 'normal'} : {kind: 'tritan', sDensity: put};
  return shifted(cone === 'l' ? 'protan' : 'deutan', put);
}

/**
 * Where a drag has brought a curve's slider. L and M follow the pointer along the wavelength axis: over the distance
 * between the normal's two peaks the separation runs from 28 nm to 0, L moving to shorter waves, M to longer ones.
 * S follows it downwards, from its whole height to nothing.
 */
export function dragged(cone: Cone, from: number, by: {readonly nm: number; readonly height: number}, peaksApartNm: number): number {
  if (cone === 's') return from + by.height;
  const towardsOther = cone === 'l' ? -by.nm : by.nm;
  return from - (towardsOther * NORMAL_SEPARATION_NM) / peaksApartNm;
}

/**
 * The value after a key, or null for a key that moves nothing. Left and right move the L and M curves as seen on the
 * picture; up and down, as everywhere, make the value larger and smaller.
 */
export function afterKey(cone: Cone, value: number, key: string): number | null {
  const {most, step, page} = RANGE[cone];
  const rightIs = cone === 'm' ? -1 : 1;
  switch (key) {
    case 'ArrowRight': return value + rightIs * step;
    case 'ArrowLeft': return value - rightIs * step;
    case 'ArrowUp': return value + step;
    case 'ArrowDown': return value - step;
    case 'PageUp': return value + page;
    case 'PageDown': return value - page;
    case 'Home': return 0;
    case 'End': return most;
    default: return null;
  }
}

/** What a curve's slider says. */
export function valueText(cone: Cone, value: number): string {
  if (cone === 's') return `S density ${numberText(value)} of 1`;
  return `residual separation ${numberText(value)} nm of ${NORMAL_SEPARATION_NM}`;
}

/** The observer in words, as over the pictures. */
export function wishWords({deviation, traits}: Wish): string {
  return traits.age === null ? deviationWords(deviation) : `${deviationWords(deviation)}, ${numberText(traits.age)} years old`;
}

function deviationWords(deviation: Deviation): string {
  switch (deviation.kind) {
    case 'normal':
      return 'A normal observer';
    case 'protan':
    case 'deutan':
      return `A ${deviation.kind}, ${valueText('l', deviation.separationNm)}`;
    case 'tritan':
      return deviation.sDensity === 0 ? 'A tritan without S cones’ pigment' : `A tritan, ${valueText('s', deviation.sDensity)}`;
    case 's-cone-monochromat':
      return 'An S-cone monochromat';
    case 'rod-monochromat':
      return 'A rod monochromat';
  }
}

/** The same question to the command line: describing the observer, and a picture as it gets it. */
export function commandLines(wish: Wish, display: string): readonly string[] {
  const {deviation, traits} = wish;
  const separation = deviation.kind === 'protan' || deviation.kind === 'deutan' ? ` --separation ${numberText(deviation.separationNm)}` : '';
  const kind = deviation.kind === 'tritan' ? headText(deviation) : deviation.kind;
  const options = TRAITS.flatMap((trait) => (traits[trait] === null ? [] : [` --${trait} ${numberText(traits[trait])}`])).join('');
  const on = ` --display ${inShell(display)}`;
  return [
    `copunctal observer describe --kind ${kind}${separation}${options}${on}`,
    `copunctal view PICTURE.png -o SEEN.png --as ${observerText(wish)}${on}`,
  ];
}

function inShell(word: string): string {
  return /^[\w./:,=+-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`;
}

/** The observers of a separation strip: same age, field and densities, one kind, one separation after the other. */
export const STRIP_NM: readonly number[] = [28, 20, 10, 5, 0];
export function stripObserver(kind: 'protan' | 'deutan', separationNm: number, traits: Traits): string {
  return observerText({deviation: shifted(kind, separationNm), traits});
}
