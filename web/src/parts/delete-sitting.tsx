/** Deleting a sitting, asked twice. */
export function DeleteSitting({asking, busy, onAsk, onCancel, onDelete}: {
  /** Whether the first press has been made. */
  readonly asking: boolean;
  readonly busy: boolean;
  readonly onAsk: () => void;
  readonly onCancel: () => void;
  readonly onDelete: () => void;
}) {
  if (!asking) return <button type="button" onClick={onAsk}>Delete this sitting</button>;
  return (
    <div class="note" role="group" aria-label="Delete this sitting">
      <p>The sitting and all its answers will be removed. This cannot be undone.</p>
      <div class="buttons">
        <button type="button" class="primary" disabled={busy} onClick={onDelete}>Yes, delete it</button>
        <button type="button" disabled={busy} onClick={onCancel}>Keep it</button>
      </div>
    </div>
  );
}
