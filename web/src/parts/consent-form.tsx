import {useState} from 'preact/hooks';

import type {EyeName, SexAtBirth, Tell} from '../model/wire.ts';

/** What a person agrees to and asks for before sitting. */
export interface Consent {
  readonly tell: Tell;
  readonly sex_at_birth: SexAtBirth;
  readonly on_loan: boolean;
  readonly off_record: boolean;
  readonly purposes: readonly ('class' | 'research')[];
  readonly examined: boolean;
  readonly eye: EyeName;
}

const TELLS: readonly {readonly tell: Tell; readonly label: string; readonly hint: string}[] = [
  {tell: 'tell', label: 'Tell me', hint: 'The outcome is shown on this screen when the sitting ends.'},
  {tell: 'dont_tell', label: 'Don’t tell me', hint: 'You take part; nothing is said about your own eyes.'},
  {tell: 'later', label: 'I’ll decide later', hint: 'You are asked again when the sitting ends.'},
];

/** Equal ways: nobody in the room sees which somebody chose. */
const WAYS: readonly {readonly way: 'kept' | 'examined' | 'lot' | 'off'; readonly label: string; readonly hint: string}[] = [
  {way: 'kept', label: 'My answers are kept', hint: 'Under two words that stand for you, without a name.'},
  {
    way: 'examined', label: 'With an examiner',
    hint: 'You say what you see, and somebody enters it: they hear your answers. Kept under two words, without a name. Good for learning how it is done; you may swap roles.',
  },
  {
    way: 'lot', label: 'Let a lot decide whose eyes I answer with',
    hint: 'Plates can be drawn so that you answer as another observer would. You get such eyes, or keep your own; which it was is told when the practical is closed. Answers with lent eyes say nothing about your own.',
  },
  {way: 'off', label: 'Off the record', hint: 'Everything is the same, but nothing is stored; what you answered is forgotten when the program ends.'},
];

const EYES: readonly {readonly eye: EyeName; readonly label: string}[] = [
  {eye: 'both', label: 'Both eyes together'}, {eye: 'right', label: 'The right eye first, then the left'}, {eye: 'left', label: 'The left eye first, then the right'},
];

const PURPOSES: readonly {readonly purpose: 'class' | 'research'; readonly label: string}[] = [
  {purpose: 'class', label: 'They may count in what the class sees afterwards: shares of all, none that fewer than five people make up.'},
  {purpose: 'research', label: 'They may be kept for research when the course is over.'},
];

/** Consent, the choice to be told or not (none is chosen for anybody), and sex at birth for the prior alone. */
export function ConsentForm({busy, lends, onConsent}: {
  readonly busy: boolean;
  /** Whether the practical lends observers. */
  readonly lends: boolean;
  readonly onConsent: (consent: Consent) => void;
}) {
  const [way, setWay] = useState<string | null>(null);
  const submit = (event: SubmitEvent) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const tell = TELLS.find((option) => option.tell === form.get('tell'))?.tell;
    if (tell === undefined || form.get('consent') === null) return;
    const sex = form.get('sex');
    const chosen = WAYS.find((option) => option.way === form.get('way'))?.way;
    if (chosen === undefined) return;
    const eye = EYES.find((option) => option.eye === form.get('eye'))?.eye ?? 'both';
    onConsent({tell, sex_at_birth: sex === 'female' || sex === 'male' ? sex : null, on_loan: chosen === 'lot', off_record: chosen === 'off', purposes: PURPOSES.filter(({purpose}) => form.get(purpose) !== null).map(({purpose}) => purpose), examined: chosen === 'examined', eye: chosen === 'examined' ? eye : 'both'});
  };
  return (
    <form class="fields" onSubmit={submit}>
      <fieldset class="card">
        <legend>Do you want to know the outcome?</legend>
        {TELLS.map(({tell, label, hint}) => (
          <div class="choice" key={tell}>
            <input type="radio" id={`tell-${tell}`} name="tell" value={tell} required aria-describedby={`tell-${tell}-hint`} />
            <label for={`tell-${tell}`}>{label}</label>
            <span id={`tell-${tell}-hint`} class="aside">{hint}</span>
          </div>
        ))}
      </fieldset>
      <fieldset class="card">
        <legend>How do you take part?</legend>
        {WAYS.filter((option) => lends || option.way !== 'lot').map(({way: value, label, hint}) => (
          <div class="choice" key={value}>
            <input type="radio" id={`way-${value}`} name="way" value={value} required aria-describedby={`way-${value}-hint`} onChange={() => setWay(value)} />
            <label for={`way-${value}`}>{label}</label>
            <span id={`way-${value}-hint`} class="aside">{hint}</span>
          </div>
        ))}
      </fieldset>
      {way === 'examined' && (
        <fieldset class="card">
          <legend>With which eye?</legend>
          {EYES.map(({eye, label}) => (
            <div class="choice" key={eye}>
              <input type="radio" id={`eye-${eye}`} name="eye" value={eye} defaultChecked={eye === 'both'} />
              <label for={`eye-${eye}`}>{label}</label>
            </div>
          ))}
          <p class="aside">One at a time where a change of late, or a difference between the eyes, is the question; the other one is covered.</p>
        </fieldset>
      )}
      <fieldset class="card" disabled={way === 'off'}>
        <legend>What may your answers be used for? <span class="aside">{way === 'off' ? '(off the record: for nothing)' : '(each as you like)'}</span></legend>
        {PURPOSES.map(({purpose, label}) => (
          <div class="choice" key={purpose}>
            <input type="checkbox" id={`purpose-${purpose}`} name={purpose} />
            <label for={`purpose-${purpose}`}>{label}</label>
          </div>
        ))}
      </fieldset>
      <fieldset class="card" aria-describedby="sex-hint">
        <legend>Sex at birth <span class="aside">(optional)</span></legend>
        <p id="sex-hint" class="aside">
          Used only for the prior, which says how common each kind of eye is; it differs greatly between the sexes. The
          evidence from your answers is worked out without it.
        </p>
        <div class="inline-choices">
          {(['female', 'male'] as const).map((sex) => (
            <div class="choice" key={sex}>
              <input type="radio" id={`sex-${sex}`} name="sex" value={sex} />
              <label for={`sex-${sex}`}>{sex === 'female' ? 'Female' : 'Male'}</label>
            </div>
          ))}
          <div class="choice">
            <input type="radio" id="sex-none" name="sex" value="" defaultChecked />
            <label for="sex-none">Rather not say</label>
          </div>
        </div>
      </fieldset>
      <div class="card choice">
        <input type="checkbox" id="consent" name="consent" required />
        <label for="consent">I have read this and I want to take part.</label>
      </div>
      <button type="submit" class="primary large" disabled={busy}>Begin</button>
    </form>
  );
}
