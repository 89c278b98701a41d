import {cellWords, expectedWords, type Expected, type Tally, tallyWords} from '../model/show.ts';
import {symbolName} from '../model/symbols.ts';
import {observerName} from '../model/words.ts';
import {Bar} from './bar.tsx';

/** What phones answered, as counts. */
export function ShowTally({tally}: {readonly tally: Tally}) {
  return (
    <>
      <p role="status">{tallyWords(tally)}</p>
      {tally.told && tally.answered > 0 && <>
        <table>
          <caption class="spoken">Answers of phones</caption>
          <thead><tr><th scope="col">Answer</th><th scope="col">Phones</th></tr></thead>
          <tbody>
            {tally.cells.map(({answer, count}) => (
              <tr key={answer}>
                <th scope="row">{symbolName(answer)}</th>
                <td>{count === null ? cellWords(count) : <Bar share={count / tally.answered} label={cellWords(count)} />}</td>
              </tr>
            ))}
          </tbody>
        </table>
        <p class="aside">Not told: under five, or what would give away something under five.</p>
      </>}
    </>
  );
}

/** Who is predicted to read the plate, once it may be said. */
export function ExpectedTable({expected}: {readonly expected: readonly Expected[]}) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Observer by observer">
      <table>
        <thead><tr><th scope="col">Observer</th><th scope="col">Predicted to read it</th><th scope="col">Why</th></tr></thead>
        <tbody>
          {expected.map((one) => (
            <tr key={one.observer}><th scope="row">{observerName(one.observer)}</th><td>{expectedWords(one)}</td><td class="aside">{one.margins}</td></tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
