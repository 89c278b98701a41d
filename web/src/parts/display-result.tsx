import {type DisplayRecord, FINDING, whatEnds} from '../model/display-record.ts';
import {CHANNEL_NAMES} from '../model/display-check.ts';
import {asSentence, timeText} from '../model/words.ts';

/** A record of the screen: its status in words, each finding with a mark and a word, and what ends it. */
export function DisplayResult({record}: {readonly record: DisplayRecord}) {
  const {tone} = record;
  return (
    <div class="display-result">
      <p class="verdict-words">Status: {record.status}</p>
      <p>{asSentence(record.words)}</p>
      <p class="aside">
        Of the three states a screen can be in: <strong>measured</strong>, its light was measured with an instrument; <strong>profile</strong>, a profile
        describes it; <strong>assumed</strong>, nothing but its kind is known, even when a check by eye found nothing amiss.
      </p>
      <table class="findings">
        <caption>What was found</caption>
        <thead><tr><th scope="col">Part</th><th scope="col">State</th><th scope="col">In words</th></tr></thead>
        <tbody>
          {record.findings.map(({what, state, words}) => (
            <tr key={what}>
              <th scope="row">{what}</th>
              <td class="finding-state"><span class="finding-mark" aria-hidden="true">{FINDING[state].mark}</span> {FINDING[state].word}</td>
              <td>{asSentence(words)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {tone !== null && (
        <p>
          Tone curve, as an exponent: {(['r', 'g', 'b'] as const).map((channel) => {
            const found = tone[channel];
            return `${CHANNEL_NAMES[channel]} ${found === null ? 'not done' : `${found.gamma.toFixed(2)} (fits to ${found.rms_codes.toFixed(1)} codes)`}`;
          }).join(', ')}.
        </p>
      )}
      <p>Made {timeText(record.made_utc)}. {whatEnds(record)}</p>
    </div>
  );
}
