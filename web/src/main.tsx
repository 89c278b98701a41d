import {render} from 'preact';

import {routeOf} from './model/route.ts';
import {goToPath, usePath} from './pages/browser.ts';
import {DemonstratorPage} from './pages/demonstrator.tsx';
import {CollectPage} from './pages/collect.tsx';
import {ConsentPage} from './pages/consent.tsx';
import {DisplayPage} from './pages/display.tsx';
import {EyesPage} from './pages/eyes.tsx';
import {PlatesPage} from './pages/plates.tsx';
import {PageFrame} from './pages/frame.tsx';
import {JoinPage} from './pages/join.tsx';
import {OutcomePage} from './pages/outcome.tsx';
import {PaperPage} from './pages/paper.tsx';
import {PracticalPage} from './pages/practical.tsx';
import {SheetPage} from './pages/sheet.tsx';
import {SheetsPage} from './pages/sheets.tsx';
import {PreflightPage} from './pages/preflight.tsx';
import {InventedBanner} from './pages/rehearsal-panel.tsx';
import {AudiencePage, ShowPage} from './pages/show.tsx';
import {SittingPage} from './pages/sitting.tsx';
import {StartPage} from './pages/start.tsx';
import {ViewsPage} from './pages/views.tsx';

function App() {
  const route = routeOf(usePath());
  switch (route.page) {
    case 'start':
      return <StartPage />;
    case 'join':
      return <JoinPage />;
    case 'eyes':
      return <EyesPage />;
    case 'plates':
      return <PlatesPage />;
    case 'views':
      return <ViewsPage />;
    case 'demonstrator':
      return <DemonstratorPage />;
    case 'collect':
      return <CollectPage />;
    case 'sheet':
      return <SheetPage key={route.sitting} sittingId={route.sitting} />;
    case 'sheets':
      return <SheetsPage key={route.practical} practicalId={route.practical} />;
    case 'paper':
      return <PaperPage />;
    case 'preflight':
      return <PreflightPage />;
    case 'display':
      return <DisplayPage />;
    case 'practical':
      return <PracticalPage key={route.practical} practicalId={route.practical} />;
    case 'show':
      return <ShowPage key={route.show} showId={route.show} />;
    case 'audience':
      return <AudiencePage key={route.show} showId={route.show} />;
    case 'consent':
      return <ConsentPage key={route.practical} practicalId={route.practical} />;
    case 'sitting':
      return <SittingPage key={route.sitting} sittingId={route.sitting} />;
    case 'outcome':
      return <OutcomePage key={route.sitting} sittingId={route.sitting} />;
    case 'unknown':
      return (
        <PageFrame heading="Nothing here">
          <p>There is no page at this address.</p>
          <p><a class="button" href="/">To the start page</a></p>
        </PageFrame>
      );
  }
}

// Links between our own pages change the page without loading it anew.
document.addEventListener('click', (event) => {
  if (event.defaultPrevented || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const link = event.target instanceof Element ? event.target.closest('a') : null;
  if (link === null || link.origin !== location.origin || link.target !== '') return;
  event.preventDefault();
  goToPath(link.pathname + link.search);
});

const root = document.getElementById('page')!;
root.replaceChildren();
render(<><InventedBanner /><App /></>, root);
