/** Where the code of the class is typed. */
export function CodeForm({busy, locked, onJoin}: {readonly busy: boolean; readonly locked: boolean; readonly onJoin: (code: string) => void}) {
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const code = String(new FormData(event.currentTarget as HTMLFormElement).get('code') ?? '').trim();
    if (code !== '') onJoin(code);
  };
  if (locked) return <p>Nobody can join at the moment. Ask whoever runs the class.</p>;
  return (
    <form class="card fields" onSubmit={submit}>
      <div class="field">
        <label for="join-code">Code of the class</label>
        <input id="join-code" name="code" type="text" required maxLength={16} autocomplete="off" autocapitalize="characters" spellcheck={false} aria-describedby="join-code-hint" />
        <p id="join-code-hint" class="aside">Eight letters and digits; it stands in front of the class.</p>
      </div>
      <button type="submit" class="primary" disabled={busy}>Join</button>
    </form>
  );
}
