import {PageFrame} from './frame.tsx';

export function DisplayPage() {
  return <PageFrame heading="The screen in front of you"><p>…</p></PageFrame>;
}
