// Random ids: 32 lower-case hexadecimal digits, 128 random bits.

/** Fills an array with random bytes, as `crypto.getRandomValues` does; that one also works on plain http. */
export type FillRandom = (bytes: Uint8Array<ArrayBuffer>) => void;

export function randomId(fill: FillRandom): string {
  const bytes = new Uint8Array(16);
  fill(bytes);
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
}
