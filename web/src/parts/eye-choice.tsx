import {type Deviation, headText, USUAL_EYES} from '../model/observer.ts';

/** Eyes that have a name, and the one the curves stand at where it is none of them. */
export function EyeChoice({deviation, onChoose}: {readonly deviation: Deviation; readonly onChoose: (deviation: Deviation) => void}) {
  const now = headText(deviation);
  const isUsual = USUAL_EYES.some((one) => headText(one.deviation) === now);
  return (
    <div class="field">
      <label for="eye-choice">Whose eye</label>
      <select id="eye-choice" value={now} onChange={(event) => {
        const chosen = USUAL_EYES.find((one) => headText(one.deviation) === event.currentTarget.value);
        if (chosen !== undefined) onChoose(chosen.deviation);
      }}>
        {!isUsual && <option value={now}>as the curves stand: {now}</option>}
        {USUAL_EYES.map((one) => <option key={one.name} value={headText(one.deviation)}>{one.name}</option>)}
      </select>
    </div>
  );
}
