// Short blocks of text that several pages show: the caution, trouble, and answers that were refused.

import type {Refused} from '../model/queue.ts';
import type {Trouble} from '../model/wire.ts';
import {asSentence, countText} from '../model/words.ts';

/** The intended use and whom to see; the same words at the top and at the bottom of an outcome. */
export function CautionNote({lines, label}: {readonly lines: readonly string[]; readonly label: string}) {
  return (
    <aside class="note caution" aria-label={label}>
      {lines.map((line) => <p key={line}>{line}</p>)}
    </aside>
  );
}

/** What went wrong and what helps. */
export function TroubleNote({trouble, onRetry}: {readonly trouble: Trouble; readonly onRetry?: () => void}) {
  return (
    <div class="note trouble" role="alert">
      <p><strong>{asSentence(trouble.message)}</strong></p>
      <p>{asSentence(trouble.remedy)}</p>
      {onRetry && <button type="button" onClick={onRetry}>Try again</button>}
    </div>
  );
}

/** Answers the program would not take: said plainly, never dropped in silence. */
export function RefusedNote({refused}: {readonly refused: readonly Refused[]}) {
  if (refused.length === 0) return null;
  return (
    <div class="note trouble" role="alert">
      <p><strong>{countText(refused.length, 'answer was', 'answers were')} not taken.</strong> Please tell whoever leads the practical.</p>
      <ul>
        {refused.map(({answer, message, remedy}) => (
          <li key={answer.id}>Plate {answer.body.item + 1} of this sitting: {asSentence(message)} {asSentence(remedy)}</li>
        ))}
      </ul>
    </div>
  );
}
