import type {Ref} from 'preact';
import {useLayoutEffect, useRef} from 'preact/hooks';

import type {Codes} from '../model/looks.ts';
import type {ColourSpace} from '../model/picture.ts';
import {spread} from '../model/view-kernel.ts';

/** Draws codes as they are: no colour conversion, no scaling. */
export function paintCodes(canvas: HTMLCanvasElement, codes: Uint8ClampedArray<ArrayBuffer>, width: number, colourSpace: ColourSpace): void {
  const context = canvas.getContext('2d', {colorSpace: colourSpace});
  if (context === null) throw new Error('this browser has no 2d canvas');
  context.putImageData(new ImageData(codes, width, codes.length / 4 / width, {colorSpace: colourSpace}), 0, 0);
}

/** A picture of any shape, as wide as there is room. */
export function CodesCanvas({codes, label, canvas, look = 'seen'}: {
  readonly codes: Codes;
  readonly label: string;
  readonly canvas?: Ref<HTMLCanvasElement>;
  readonly look?: string;
}) {
  const own = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    if (own.current === null) return;
    const rgba = new Uint8ClampedArray(4 * codes.width * codes.height);
    spread(codes.rgb, codes.width * codes.height, rgba);
    paintCodes(own.current, rgba, codes.width, codes.colourSpace);
  }, [codes]);
  const keep = (element: HTMLCanvasElement | null) => {
    own.current = element;
    if (typeof canvas === 'function') canvas(element);
    else if (canvas) canvas.current = element;
  };
  return <canvas ref={keep} class={look} width={codes.width} height={codes.height} role="img" aria-label={label} />;
}

/** Hatches what is marked, in black and white: it stands on any colour. */
export function HatchCanvas({mask, width, height}: {readonly mask: Uint8Array; readonly width: number; readonly height: number}) {
  const own = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    if (own.current === null) return;
    const rgba = new Uint8ClampedArray(4 * width * height);
    const step = Math.max(6, Math.round(width / 90));
    for (let i = 0; i < mask.length; ++i) {
      if (mask[i] === 0) continue;
      const place = ((i % width) + Math.floor(i / width)) % step;
      if (place >= step / 2) continue;
      const code = place < step / 4 ? 0 : 255;
      rgba.set([code, code, code, 255], 4 * i);
    }
    paintCodes(own.current, rgba, width, 'srgb');
  }, [mask, width, height]);
  return <canvas ref={own} class="hatch" width={width} height={height} aria-hidden="true" />;
}
