// Where a sitting stands on its page: introduction, plate after plate, saving, the next round.

import type {Family, Round, RoundItem, RoundName, SittingState, Trouble} from './wire.ts';

/** The stages of the page. `left` are the items still to be shown, the current one first. */
export type Course =
  | {readonly at: 'loading'}
  | {readonly at: 'introduction'; readonly sitting: SittingState; readonly round: Round; readonly left: readonly RoundItem[]}
  | {readonly at: 'plate'; readonly sitting: SittingState; readonly round: Round; readonly left: readonly RoundItem[]}
  | {readonly at: 'stopping'; readonly sitting: SittingState; readonly round: Round; readonly left: readonly RoundItem[]}
  | {readonly at: 'saving'; readonly sitting: SittingState}
  | {readonly at: 'ended'; readonly examined: boolean}
  | {readonly at: 'deleted'}
  | {readonly at: 'trouble'; readonly trouble: Trouble};

export type Happening =
  /** The server's word on where the sitting stands; `settled` are items this page has already sent or queued. */
  | {readonly what: 'arrived'; readonly sitting: SittingState; readonly settled: ReadonlySet<number>}
  | {readonly what: 'begun'}
  | {readonly what: 'item settled'; readonly item: number}
  | {readonly what: 'asked to stop'}
  | {readonly what: 'going on'}
  | {readonly what: 'deleted'}
  | {readonly what: 'troubled'; readonly trouble: Trouble};

export const loading: Course = {at: 'loading'};

/** The course after something happened; what does not fit the stage changes nothing. */
export function next(course: Course, happening: Happening): Course {
  switch (happening.what) {
    case 'arrived':
      return afterArrival(happening.sitting, happening.settled);
    case 'begun':
      return course.at === 'introduction' ? {...course, at: 'plate'} : course;
    case 'item settled':
      return course.at === 'plate' || course.at === 'stopping' ? afterItem(course, happening.item) : course;
    case 'asked to stop':
      return course.at === 'introduction' || course.at === 'plate' ? {...course, at: 'stopping'} : course;
    case 'going on':
      if (course.at !== 'stopping') return course;
      return course.left.length === 0 ? {at: 'saving', sitting: course.sitting} : {...course, at: 'introduction'};
    case 'deleted':
      return {at: 'deleted'};
    case 'troubled':
      return {at: 'trouble', trouble: happening.trouble};
  }
}

function afterArrival(sitting: SittingState, settled: ReadonlySet<number>): Course {
  if (sitting.state === 'ended' || sitting.round === null) return {at: 'ended', examined: sitting.examined};
  const left = sitting.round.items.filter((item) => !item.answered && !settled.has(item.item));
  if (left.length === 0) return {at: 'saving', sitting};
  return {at: 'introduction', sitting, round: sitting.round, left};
}

function afterItem(course: Course & {at: 'plate' | 'stopping'}, item: number): Course {
  const left = course.left.filter((candidate) => candidate.item !== item);
  if (left.length === 0 && course.at === 'plate') return {at: 'saving', sitting: course.sitting};
  return {...course, left};
}

/** What is said before a round. It tells what to do, and nothing about why the round comes or what it may show. */
export interface Introduction {
  readonly title: string;
  readonly lines: readonly string[];
}

const TITLES: {readonly [Name in RoundName]: string} = {
  'warm-up': 'Warm-up',
  'first': 'First round',
  'which-kind': 'Which-kind round',
  'blue-yellow': 'Blue–yellow round',
  'again': 'Some plates once more',
};

export function titleOf(name: RoundName): string {
  return TITLES[name];
}

const NONE = 'If you see none, say “no figure for me”: that is an answer like any other.';

/** What to look for and how to answer it. */
function taskOf(family: Family, figures: 1 | 2): string {
  if (family === 'paths') {
    return `A path made of pebbles may lead from the entrance, marked below the plate, to one of four numbered gates. Answer with the gate at which it comes out. ${NONE}`;
  }
  if (family === 'rings') {
    return figures === 1
      ? `Look for a ring made of pebbles and answer where its gap is. ${NONE}`
      : `A plate may hold two rings, one, or none that you can see. Choose where their gaps are, up to two places, then press Done. ${NONE}`;
  }
  return figures === 1
    ? `Look for a symbol made of pebbles and answer with the one you see. ${NONE}`
    : `A plate may hold two symbols, one, or none that you can see. Choose up to two, then press Done. ${NONE}`;
}

export function introductionTo(round: Round, left: number, exposureMs: number, family: Family, isExamined = false): Introduction {
  const seconds = secondsText(exposureMs);
  const plates = left === 1 ? 'One plate' : `${left} plates`;
  const lines = [
    `${plates}, ${left === 1 ? 'shown' : 'each shown'} for ${seconds}. ${lengthText(left, exposureMs)}`,
    taskOf(family, round.figures),
    round.figures === 1
      ? 'Answer while the plate stands or shortly after it has gone. The next plate follows at once.'
      : 'Answer while the plate stands or shortly after it has gone. If time runs out before Done, what you have chosen counts.',
  ];
  if (isExamined) lines.push('Say aloud what you see. Whoever examines enters it as you say it, and says nothing about it.');
  if (round.name === 'again') lines.push('Some plates of the first round come once more, in another order, for everybody; what was answered first is what counts. You may also leave it at that.');
  if (round.name === 'warm-up') lines.push('This plate is for getting used to answering and to the time.');
  return {title: titleOf(round.name), lines};
}

/** "3 s", "2.5 s". */
export function secondsText(ms: number): string {
  return `${Number((ms / 1000).toFixed(1))} s`;
}

/** A rough length: the pause and the exposure, and a moment to answer. */
function lengthText(plates: number, exposureMs: number): string {
  const seconds = (plates * (exposureMs + 1500)) / 1000;
  if (seconds < 45) return 'This takes less than a minute.';
  const minutes = Math.round(seconds / 60);
  return minutes <= 1 ? 'This takes about a minute.' : `This takes about ${minutes} minutes.`;
}
