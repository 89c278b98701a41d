/** Where the code of the class is typed. */
export function CodeForm({busy, locked, onJoin}: {readonly busy: boolean; readonly locked: boolean; readonly onJoin: (code: string) => void}) {
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const code = String(new FormData(event.currentTarget as HTMLFormElement).get('code') ?? '').trim();
    if (code !== '') onJoin(code);
  };
  const form = (
    <form class={locked ? 'fields' : 'card fields'} onSubmit={submit}>
      <div class="field">
        <label for="join-code">{locked ? 'Code for a demonstrator' : 'Code of the class'}</label>
        <input id="join-code" name="code" type="text" required maxLength={16} autocomplete="off" autocapitalize="characters" spellcheck={false} aria-describedby="join-code-hint" />
        <p id="join-code-hint" class="aside">Eight letters and digits{locked ? ', from whoever runs the class' : '; it stands in front of the class'}.</p>
      </div>
      <button type="submit" class="primary" disabled={busy}>Join</button>
    </form>
  );
  if (!locked) return form;
  // A demonstrator's own code is good while nobody else is let in.
  return (
    <>
      <p>Nobody can join at the moment. Ask whoever runs the class.</p>
      <details class="card"><summary>Joining as a demonstrator</summary>{form}</details>
    </>
  );
}
