import {type RefObject} from 'preact';
import {useLayoutEffect, useState} from 'preact/hooks';

/** The width an element has, CSS px, so that a drawing in it keeps the size of its text. 0 until it is known. */
export function useWidth(element: RefObject<Element | null>): number {
  const [widthPx, setWidthPx] = useState(0);
  useLayoutEffect(() => {
    const watched = element.current;
    if (watched === null) return;
    const measure = () => setWidthPx(Math.floor(watched.getBoundingClientRect().width));
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(watched);
    return () => observer.disconnect();
  }, []);
  return widthPx;
}
