import type {Ref} from 'preact';
import {useLayoutEffect, useRef} from 'preact/hooks';

import type {ColourSpace, Picture} from '../model/picture.ts';

/** The grey of the stage and of a blank plate, as an sRGB code. */
const BLANK_CODE = 160;

/**
 * A canvas whose pixels are the display's pixels: its size in CSS is `sizePx` divided by the device pixel ratio, so that
 * nothing resamples the plate. The page paints it, in the animation frame that counts as onset.
 */
export function PlateCanvas({canvas, sizePx, pixelRatio}: {
  readonly canvas: Ref<HTMLCanvasElement>;
  readonly sizePx: number;
  readonly pixelRatio: number;
}) {
  const side = `${sizePx / pixelRatio}px`;
  return <canvas ref={canvas} class="plate" width={sizePx} height={sizePx} style={{width: side, height: side}} role="img" aria-label="Plate" />;
}

/** Draws the picture's codes as they are: no colour conversion, no scaling. */
export function paint(canvas: HTMLCanvasElement, picture: Picture): void {
  const {codes, sizePx, colourSpace} = picture;
  contextOf(canvas, colourSpace).putImageData(new ImageData(codes, sizePx, sizePx, {colorSpace: colourSpace}), 0, 0);
}

/** A blank field on the canvas of such a picture. */
export function blank(canvas: HTMLCanvasElement, {colourSpace}: Picture): void {
  const context = contextOf(canvas, colourSpace);
  context.fillStyle = `rgb(${BLANK_CODE} ${BLANK_CODE} ${BLANK_CODE})`;
  context.fillRect(0, 0, canvas.width, canvas.height);
}

function contextOf(canvas: HTMLCanvasElement, colourSpace: ColourSpace): CanvasRenderingContext2D {
  const context = canvas.getContext('2d', {colorSpace: colourSpace, alpha: false, willReadFrequently: true});
  if (context === null) throw new Error('this browser has no 2d canvas');
  return context;
}

/** A plate of the outcome: same numbers, shown smaller where the page is narrow. */
export function StillPlate({picture, label, look = 'still-plate'}: {
  readonly picture: Picture | undefined;
  readonly label: string;
  readonly look?: 'still-plate' | 'still-plate small' | 'still-plate wide';
}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  useLayoutEffect(() => {
    if (canvas.current !== null && picture !== undefined) paint(canvas.current, picture);
  }, [picture]);
  if (picture === undefined) return <div class={`${look} empty`}><span>loading</span></div>;
  return <canvas ref={canvas} class={look} width={picture.sizePx} height={picture.sizePx} role="img" aria-label={label} />;
}
