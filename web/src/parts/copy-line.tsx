import {useState} from 'preact/hooks';

/** A command line that can be copied; where the browser gives no clipboard, it is selected instead. */
export function CopyLine({line, onCopy}: {
  readonly line: string;
  /** Resolves to whether it was copied. */
  readonly onCopy: (line: string) => Promise<boolean>;
}) {
  const [said, setSaid] = useState('');
  const copy = async (element: HTMLElement) => {
    if (await onCopy(line)) return setSaid('copied');
    const code = element.parentElement?.querySelector('code');
    if (code) getSelection()?.selectAllChildren(code);
    setSaid('selected; copy it with the keyboard');
  };
  return (
    <div class="copy-line">
      <code tabIndex={0}>{line}</code>
      <button type="button" onClick={(event) => void copy(event.currentTarget)}>Copy<span class="spoken"> the command: {line}</span></button>
      <span role="status" class="aside">{said}</span>
    </div>
  );
}
