import type {ComponentChildren} from 'preact';
import {useEffect, useRef} from 'preact/hooks';

import {inventedWords} from '../model/rehearsal.ts';

/** The frame of a page: name of the program, main heading, content. The heading takes the focus when it changes. */
export function PageFrame({heading, title = heading, look = 'plain', updatesPerSecond = null, children}: {
  readonly heading: string;
  /** For the window's title, where it should differ. */
  readonly title?: string;
  /** `calm`: the middle grey of a sitting, so that plates appear on what surrounds them; `wide`: for tables and pictures. */
  readonly look?: 'plain' | 'calm' | 'wide';
  /** How often the page followed what was dragged, for whoever measures it. */
  readonly updatesPerSecond?: number | null;
  readonly children: ComponentChildren;
}) {
  const top = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    const invented = inventedWords(document.documentElement);
    document.title = `${invented === null ? '' : `${invented} · `}${title} · Copunctal`;
    top.current?.focus();
    window.scrollTo(0, 0);
  }, [heading]);
  useEffect(() => {
    document.documentElement.className = look;
  }, [look]);
  return (
    <>
      <header class="site"><a href="/">Copunctal</a></header>
      <main data-updates-per-second={updatesPerSecond?.toFixed(1)}>
        <h1 ref={top} tabIndex={-1}>{heading}</h1>
        {children}
      </main>
    </>
  );
}
