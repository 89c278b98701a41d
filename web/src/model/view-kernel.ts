// The program's view kernel, compiled to WebAssembly: nothing of colour is computed on this side.

/** What a view is to be, as the program says it (`/api/eye/plan`). */
export interface ViewPlan {
  readonly observer: string;
  readonly method: string;
  /** Whether the kernel alone gives the view; else the program is asked for it. */
  readonly is_whole: boolean;
  readonly a: readonly number[];
  readonly k: readonly number[];
  readonly n: readonly number[];
  readonly two_sided: boolean;
  readonly notes: readonly string[];
}

interface Exports {
  readonly memory: WebAssembly.Memory;
  matrix(): number;
  extra(): number;
  side(): number;
  two_sided(on: number): void;
  codes(): number;
  capacity(): number;
  opaque(): number;
  run(pixels: number): void;
}

export interface ViewKernel {
  /** R, G, B codes through a plan into R, G, B, A codes of an equally large picture. */
  apply(plan: ViewPlan, rgb: Uint8Array, rgba: Uint8ClampedArray): void;
}

export async function createKernel(bytes: BufferSource): Promise<ViewKernel> {
  const {instance} = await WebAssembly.instantiate(bytes, {});
  const kernel = instance.exports as unknown as Exports;
  const numbers = (at: number, values: readonly number[]) => new Float32Array(kernel.memory.buffer, at, values.length).set(values);
  return {
    apply(plan, rgb, rgba) {
      numbers(kernel.matrix(), plan.a);
      numbers(kernel.extra(), plan.k);
      numbers(kernel.side(), plan.n);
      kernel.two_sided(plan.two_sided ? 1 : 0);
      const codes = new Uint8Array(kernel.memory.buffer, kernel.codes(), 3 * kernel.capacity());
      const opaque = new Uint8Array(kernel.memory.buffer, kernel.opaque(), 4 * kernel.capacity());
      const pixels = rgb.length / 3, most = kernel.capacity();
      for (let at = 0; at < pixels; at += most) {
        const now = Math.min(most, pixels - at);
        codes.set(rgb.subarray(3 * at, 3 * (at + now)));
        kernel.run(now);
        rgba.set(opaque.subarray(0, 4 * now), 4 * at);
      }
    },
  };
}

/** Opaque pixels of R, G, B codes, from pixel `at` on. */
export function spread(rgb: Uint8Array, pixels: number, rgba: Uint8ClampedArray, at = 0): void {
  for (let from = 0, to = 4 * at; from < 3 * pixels; from += 3, to += 4) {
    rgba[to] = rgb[from]!;
    rgba[to + 1] = rgb[from + 1]!;
    rgba[to + 2] = rgb[from + 2]!;
    rgba[to + 3] = 255;
  }
}
