import type {OutboxState} from '../api/outbox.ts';
import {countText} from '../model/words.ts';

/** How many answers are saved and how many are still on their way, as a line of text. */
export function savedText({savedCount, queue, trouble}: OutboxState, offRecord = false): string {
  const parts = [offRecord ? `${savedCount} taken, none stored` : `${countText(savedCount, 'answer', 'answers')} saved`];
  if (queue.waiting.length > 0) parts.push(`${queue.waiting.length} waiting${trouble === null ? '' : ', trying again'}`);
  if (queue.refused.length > 0) parts.push(`${queue.refused.length} not taken`);
  return parts.join(' · ');
}

/**
 * The saved counter. It is spoken only between plates (`speaks`): during an exposure nothing may talk over the task.
 */
export function SavedStatus({outbox, speaks, offRecord = false}: {readonly outbox: OutboxState; readonly speaks: boolean; readonly offRecord?: boolean}) {
  return (
    <div class="saved-status">
      <p role="status" aria-live={speaks ? 'polite' : 'off'}>{savedText(outbox, offRecord)}</p>
      {!outbox.durable && outbox.queue.waiting.length > 0 && (
        <p role={speaks ? 'alert' : undefined}><strong>Keep this page open:</strong> this browser keeps nothing for us, so waiting answers live in this page alone.</p>
      )}
    </div>
  );
}
