/** Asked after "Stop": go on, come back later, or delete everything. */
export function StopCard({busy, onGoOn, onDelete}: {
  readonly busy: boolean;
  readonly onGoOn: () => void;
  readonly onDelete: () => void;
}) {
  return (
    <section class="card prose" aria-label="Your choices">
      <p>
        A plate that was standing counts as interrupted and is not weighed. You can go on, leave now and come back to this
        address later, or delete the sitting with all its answers. Deleting cannot be undone.
      </p>
      <div class="buttons">
        <button type="button" class="primary" disabled={busy} onClick={onGoOn}>Go on</button>
        <button type="button" disabled={busy} onClick={onDelete}>Delete the sitting and its answers</button>
      </div>
    </section>
  );
}
