import {useId, useState} from 'preact/hooks';

/**
 * A number with its unit and limits. While it is being typed the field shows what was typed; calls back with a value
 * within the limits, or with null when it was emptied, which means: as the program takes it.
 */
export function NumberField({label, unit, value, least, most, step, onValue}: {
  readonly label: string;
  readonly unit: string;
  readonly value: number;
  readonly least: number;
  readonly most: number;
  readonly step: number;
  readonly onValue: (value: number | null) => void;
}) {
  const id = useId();
  const [draft, setDraft] = useState<string | null>(null);
  const bad = draft !== null && draft !== '' && !isWithin(Number(draft), least, most);
  const limits = `${least} to ${most}${unit === '' ? '' : ` ${unit}`}`;
  const typed = (written: string) => {
    setDraft(written);
    if (written === '') onValue(null);
    else if (isWithin(Number(written), least, most)) onValue(Number(written));
  };
  return (
    <div class="number-field">
      <label for={id}>{label}</label>
      <input
        id={id} type="number" inputMode="decimal" min={least} max={most} step={step} value={draft ?? String(Math.round(1000 * value) / 1000)}
        aria-invalid={bad} aria-describedby={`${id}-limits`}
        onInput={(event) => typed(event.currentTarget.value)} onBlur={() => setDraft(null)}
      />
      <span id={`${id}-limits`} class={bad ? 'limits bad' : 'limits'}>{bad ? `must be ${limits}` : limits}</span>
    </div>
  );
}

function isWithin(value: number, least: number, most: number): boolean {
  return Number.isFinite(value) && value >= least && value <= most;
}
