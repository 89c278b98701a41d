/** Ways to keep what is shown as a figure for slides: closed until somebody wants one. */
export function KeepFigure({what, address}: {
  readonly what: string;
  readonly address: (kind: string, ground: string) => string;
}) {
  return (
    <details>
      <summary>Keep {what} as a figure</summary>
      <p class="aside">16 : 9, with title, caption, sources and display. Its drawing is free to reuse (CC0); a picture in it is its maker’s.</p>
      <ul class="ways">
        {(['light', 'dark'] as const).map((ground) => (
          <li key={ground}>On {ground} ground: {(['svg', 'png', 'pdf'] as const).map((kind) => (
            <a key={kind} class="button small" download href={address(kind, ground)} target="_self" aria-label={`${what}, ${kind.toUpperCase()} on ${ground} ground`}>{kind.toUpperCase()}</a>
          ))}</li>
        ))}
      </ul>
    </details>
  );
}
