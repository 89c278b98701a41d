// Small decoders for JSON at the border: an unknown value goes in, a typed one or a named complaint comes out.

/** A value did not have the shape it should; `place` says where, as in `plates[3].drawn`. */
export class Unreadable extends Error {
  readonly place: string;
  constructor(place: string, expected: string) {
    super(`${place} should be ${expected}`);
    this.name = 'Unreadable';
    this.place = place;
  }
}

/** Reads a value found at `place`; throws `Unreadable` if it has another shape. */
export type Decoder<T> = (value: unknown, place: string) => T;

export const text: Decoder<string> = (value, place) => {
  if (typeof value !== 'string') throw new Unreadable(place, 'a text');
  return value;
};

export const flag: Decoder<boolean> = (value, place) => {
  if (typeof value !== 'boolean') throw new Unreadable(place, 'true or false');
  return value;
};

export const finite: Decoder<number> = (value, place) => {
  if (typeof value !== 'number' || !Number.isFinite(value)) throw new Unreadable(place, 'a finite number');
  return value;
};

/** A whole number from 0 up. */
export const count: Decoder<number> = (value, place) => {
  const number = finite(value, place);
  if (!Number.isInteger(number) || number < 0) throw new Unreadable(place, 'a whole number from 0 up');
  return number;
};

/** 32 lower-case hexadecimal digits. */
export const id: Decoder<string> = (value, place) => {
  const found = text(value, place);
  if (!/^[0-9a-f]{32}$/.test(found)) throw new Unreadable(place, '32 lower-case hexadecimal digits');
  return found;
};

export function oneOf<const T extends string | number | boolean>(...allowed: readonly T[]): Decoder<T> {
  return (value, place) => {
    const found = allowed.find((candidate) => candidate === value);
    if (found === undefined) throw new Unreadable(place, `one of ${allowed.join(', ')}`);
    return found;
  };
}

export function nullable<T>(decoder: Decoder<T>): Decoder<T | null> {
  return (value, place) => (value === null ? null : decoder(value, place));
}

/** What older programs do not say yet. */
export function otherwise<T>(decoder: Decoder<T>, unsaid: T): Decoder<T> {
  return (value, place) => (value === undefined ? unsaid : decoder(value, place));
}

export function list<T>(decoder: Decoder<T>): Decoder<readonly T[]> {
  return (value, place) => {
    if (!Array.isArray(value)) throw new Unreadable(place, 'a list');
    return value.map((element: unknown, index) => decoder(element, `${place}[${index}]`));
  };
}

/** An object with at least these keys; other keys are ignored, so that a newer server may say more. */
export function record<T extends object>(fields: {readonly [K in keyof T]: Decoder<T[K]>}): Decoder<Readonly<T>> {
  return (value, place) => {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) throw new Unreadable(place, 'an object');
    const source = new Map<string, unknown>(Object.entries(value));
    const read: Partial<T> = {};
    for (const key in fields) read[key] = fields[key](source.get(key), `${place}.${key}`);
    return read as T;
  };
}
