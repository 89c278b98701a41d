import {pathOf} from '../model/route.ts';
import {asSentence, countText, intendedUse} from '../model/words.ts';
import {CautionNote, TroubleNote} from '../parts/notes.tsx';
import {api} from './browser.ts';
import {PageFrame} from './frame.tsx';
import {useEvery} from './use-every.ts';

const ASK_AGAIN_MS = 5000;

/** `/demonstrator`: the practicals a demonstrator may run, from a device of their own. */
export function DemonstratorPage() {
  const {value: practicals, trouble, again} = useEvery(ASK_AGAIN_MS, api.practicalsToRun);
  return (
    <PageFrame heading="For demonstrators" title="Demonstrator">
      <p class="lead">You may open and close practicals, let people join and see how many are where. What anybody answers is not shown here.</p>
      {trouble !== null && <TroubleNote trouble={trouble} onRetry={again} />}
      {practicals === null ? trouble === null && <p>Loading…</p> : <>
        <CautionNote label="What this is for" lines={[asSentence(intendedUse(practicals))]} />
        {practicals.length === 0 && <p>There is none yet. Whoever gave you the code starts one; it then appears here.</p>}
        <ul class="practicals">
          {practicals.map((practical) => (
            <li key={practical.id} class="card">
              <div>
                <h2>{practical.name}</h2>
                <p class="aside">{practical.state === 'preparing' ? 'being prepared' : practical.state} · {countText(practical.sittings, 'sitting', 'sittings')}</p>
              </div>
              <a class="button" href={pathOf({page: 'practical', practical: practical.id})} aria-label={`Run it: ${practical.name}`}>Run it</a>
            </li>
          ))}
        </ul>
      </>}
    </PageFrame>
  );
}
