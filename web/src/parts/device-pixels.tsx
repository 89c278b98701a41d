import {useLayoutEffect, useRef} from 'preact/hooks';

import type {Codes} from '../model/patterns.ts';
import {onGrid, toGrid} from '../model/pixel-grid.ts';

/**
 * A drawing in the display's own pixels: one number of it is one pixel of the screen. The canvas is moved by a few pixels
 * where the page would place it between pixels, so that nothing is resampled.
 */
export function DevicePixels({widthPx, heightPx, pixelRatio, draw, drawn, label}: {
  /** The room there is, CSS px. */
  readonly widthPx: number;
  readonly heightPx: number;
  readonly pixelRatio: number;
  readonly draw: (widthPx: number, heightPx: number) => Codes;
  /** Names what `draw` draws; it is drawn again when this changes. */
  readonly drawn: string;
  readonly label: string;
}) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [across, down] = [onGrid(widthPx, pixelRatio), onGrid(heightPx, pixelRatio)];
  const [width, height] = [across.pixels, down.pixels];
  useLayoutEffect(() => {
    const context = canvas.current?.getContext('2d', {colorSpace: 'srgb', alpha: false, willReadFrequently: true});
    if (!context) throw new Error('this browser has no 2d canvas');
    context.imageSmoothingEnabled = false;
    context.putImageData(new ImageData(draw(width, height), width, height, {colorSpace: 'srgb'}), 0, 0);
  }, [drawn, width, height]);
  useLayoutEffect(() => {
    const element = canvas.current;
    if (element === null) return;
    const settle = () => {
      element.style.left = element.style.top = '0px';
      const {left, top} = element.getBoundingClientRect();
      element.style.left = `${toGrid(left + window.scrollX, pixelRatio)}px`;
      element.style.top = `${toGrid(top + window.scrollY, pixelRatio)}px`;
    };
    settle();
    const observer = new ResizeObserver(settle);
    observer.observe(document.documentElement);
    return () => observer.disconnect();
  });
  return (
    <canvas
      ref={canvas} class="device-pixels" width={width} height={height} role="img" aria-label={label}
      style={{width: `${across.cssPx}px`, height: `${down.cssPx}px`}}
    />
  );
}
