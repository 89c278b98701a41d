/** A question with one answer out of a few, as radio buttons beneath each other or beside each other. */
export function Choices<T extends string | number>({name, question, options, chosen, onChoose}: {
  readonly name: string;
  readonly question: string;
  readonly options: readonly {readonly value: T; readonly words: string}[];
  readonly chosen: T | null;
  readonly onChoose: (value: T) => void;
}) {
  return (
    <fieldset class="choices">
      <legend>{question}</legend>
      <div class="inline-choices">
        {options.map(({value, words}) => (
          <label key={value} class="choice">
            <input type="radio" name={name} checked={value === chosen} onChange={() => onChoose(value)} />
            <span>{words}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}
