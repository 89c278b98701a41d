import {pathOf} from '../model/route.ts';
import type {BlindResult} from '../model/sheet.ts';
import {countText} from '../model/words.ts';
import {api} from './browser.ts';
import {useEvery} from './use-every.ts';
import {TroubleNote} from '../parts/notes.tsx';

const ASK_AGAIN_MS = 3000;
const percent = (share: number) => `${(100 * share).toFixed(0)} %`;

/** The class judges sheets without names; here what came of it, beside what is computed from the same readings. */
export function JudgedSheets({practicalId}: {readonly practicalId: string}) {
  const {value: result, trouble} = useEvery(ASK_AGAIN_MS, () => api.blindResult(practicalId));
  return (
    <section aria-labelledby="judged">
      <h2 id="judged">Sheets judged blind</h2>
      <p>
        The class opens <a href={pathOf({page: 'sheets', practical: practicalId})}>the sheets without names</a> on its own devices, at the same address, and says of each whether
        the eyes were normal. Which observers were lent is known here, so the class gets a real curve of hits against false alarms.
      </p>
      {trouble !== null && <TroubleNote trouble={trouble} />}
      {result !== null && <Result result={result} />}
    </section>
  );
}

function Result({result}: {readonly result: BlindResult}) {
  if (result.sheets === 0) return <p class="card">There is no sheet to judge: nobody on whom a lot was drawn agreed to be counted.</p>;
  return (
    <div class="card">
      <p role="status">{countText(result.raters, 'person has', 'people have')} judged, {countText(result.ratings, 'sheet', 'sheets')} in all, of {result.sheets}: {result.with} with lent eyes, {result.without} with own ones by lot.</p>
      {result.computed_area === null
        ? <p>A curve needs five sheets with lent eyes and five with own ones at least.</p>
        : <>
            <p>
              Computed from the readings alone, the probability of “not normal” tells them apart with an area of {result.computed_area.toFixed(3)} ± {(result.computed_error ?? 0).toFixed(3)};
              its verdict names the lent kind on {result.computed_right} of {result.with} sheets.
            </p>
            {result.area !== null && <>
              <p>
                By the class: area {result.area.toFixed(3)} ± {(result.error ?? 0).toFixed(3)} (standard error, taking every judgement as independent, which judgements of one sheet are not);
                the lent kind was named in {result.kinds_right} of {result.kinds_of} judgements.
              </p>
              <table>
                <caption class="spoken">Hits and false alarms of the class, by how sure it had to be</caption>
                <thead><tr><th scope="col">“Not normal” from</th><th scope="col">Hits</th><th scope="col">False alarms</th></tr></thead>
                <tbody>{result.points.map((point) => <tr key={point.from}><th scope="row">{point.from}</th><td>{percent(point.hits)}</td><td>{percent(point.false_alarms)}</td></tr>)}</tbody>
              </table>
            </>}
          </>}
    </div>
  );
}
