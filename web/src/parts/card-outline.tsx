import type {TargetedPointerEvent} from 'preact';
import {useRef} from 'preact/hooks';

import {CARD_LEAST_PX, CARD_MM, CARD_MOST_PX, cardWithin} from '../model/display-check.ts';

const STEP_PX = 0.5;
const PAGE_PX = 10;

/** The outline of a card of format ID-1, dragged or stepped until it is as large as a real one held against the screen. */
export function CardOutline({cardPx, upright, roomPx, onSize}: {
  /** Long side, CSS px. */
  readonly cardPx: number;
  /** On a narrow screen the card is held upright. */
  readonly upright: boolean;
  /** How wide the outline may become, CSS px. */
  readonly roomPx: number;
  readonly onSize: (cardPx: number) => void;
}) {
  const grip = useRef<{readonly pointer: number; readonly from: number; readonly at: number} | null>(null);
  const shortPx = (cardPx * CARD_MM.short) / CARD_MM.long;
  const mostPx = Math.min(CARD_MOST_PX, Math.floor(upright ? (roomPx * CARD_MM.long) / CARD_MM.short : roomPx));
  const size = (wanted: number) => onSize(Math.min(mostPx, cardWithin(wanted)));
  const along = (event: TargetedPointerEvent<HTMLElement>) => (upright ? event.clientY : event.clientX);
  const press = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const by: {readonly [key: string]: number} = {
      ArrowRight: STEP_PX, ArrowUp: STEP_PX, ArrowLeft: -STEP_PX, ArrowDown: -STEP_PX, PageUp: PAGE_PX, PageDown: -PAGE_PX,
      Home: CARD_LEAST_PX - cardPx, End: mostPx - cardPx,
    };
    const change = by[event.key];
    if (change === undefined) return;
    event.preventDefault();
    size(cardPx + change);
  };
  return (
    <div
      class={upright ? 'card-outline upright' : 'card-outline'} role="slider" tabIndex={0} aria-label="Card, long side" aria-valuemin={CARD_LEAST_PX}
      aria-valuemax={mostPx} aria-valuenow={cardPx} aria-valuetext={`${cardPx} pixels long`}
      style={{width: `${upright ? shortPx : cardPx}px`, height: `${upright ? cardPx : shortPx}px`}}
      onKeyDown={press}
      onPointerDown={(event) => {
        if (event.button !== 0) return;
        event.preventDefault();
        event.currentTarget.setPointerCapture(event.pointerId);
        event.currentTarget.focus({preventScroll: true});
        grip.current = {pointer: event.pointerId, from: cardPx, at: along(event)};
      }}
      onPointerMove={(event) => {
        if (grip.current?.pointer === event.pointerId) size(grip.current.from + along(event) - grip.current.at);
      }}
      onPointerUp={() => { grip.current = null; }} onPointerCancel={() => { grip.current = null; }}
    >
      <span class="card-edge" aria-hidden="true">{upright ? '↕' : '↔'}</span>
    </div>
  );
}
