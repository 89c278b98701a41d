// What travels between page and server, spelt as docs/api.md spells it, with a decoder beside each type.

import {count, type Decoder, finite, flag, id, list, nullable, oneOf, otherwise, record, text, Unreadable} from './decode.ts';

/** The one shape of every error. `status` 0: the server was not reached at all. */
export interface Trouble {
  readonly status: number;
  readonly code: string;
  readonly thing: string;
  readonly place: string;
  readonly message: string;
  readonly remedy: string;
  /** What the server asked us to wait before trying again, ms; null when it did not say. */
  readonly retryAfterMs: number | null;
}

export interface Practical {
  readonly id: string;
  readonly name: string;
  readonly created_utc: string;
  readonly display: string;
  readonly set_hash: string;
  readonly plates: number;
  readonly exposure_ms: number;
  readonly grace_ms: number;
  readonly sittings: number;
  readonly state: PracticalState;
  /** Observers that may be lent in it. */
  readonly loans: readonly string[];
  readonly course: string;
  readonly group: string;
  readonly lateness: 'ignore' | 'note' | 'miss';
  readonly again: boolean;
  /** The last day on which it is kept. */
  readonly keep_until: string | null;
  readonly intended_use: string;
}
export type PracticalState = 'preparing' | 'open' | 'closed';

export const practical: Decoder<Practical> = record<Practical>({
  id, name: text, created_utc: text, display: text, set_hash: text, plates: count,
  exposure_ms: finite, grace_ms: finite, sittings: count, state: oneOf('preparing', 'open', 'closed'), loans: list(text),
  course: text, group: text, lateness: oneOf('ignore', 'note', 'miss'), again: flag, keep_until: nullable(text),
  intended_use: text,
});

export const practicals = record<{practicals: readonly Practical[]}>({practicals: list(practical)});

export type Tell = 'tell' | 'dont_tell' | 'later';
export type SexAtBirth = 'female' | 'male' | null;
/** What the symbols of the answer row are; which they are is `symbols`. */
export type Family = 'digits' | 'rings' | 'paths';
export type RoundName = 'warm-up' | 'first' | 'which-kind' | 'blue-yellow' | 'again';
/** The eye that is not covered. */
export type EyeName = 'both' | 'right' | 'left';

export interface RoundItem {
  readonly item: number;
  readonly plate: string;
  readonly answered: boolean;
  /** Of a plate whose reading was void. */
  readonly repeat: boolean;
}

export interface Round {
  readonly name: RoundName;
  readonly place: number;
  readonly of: number;
  /** How many symbols may be answered to one plate. */
  readonly figures: 1 | 2;
  readonly items: readonly RoundItem[];
}

export interface SittingState {
  readonly sitting: string;
  readonly practical: string;
  readonly practical_name: string;
  /** Two words for the room; empty in sittings of older programs. */
  readonly pseudonym: string;
  /** By lot with lent eyes, or with own ones: which is not said before the practical is closed. */
  readonly on_loan: boolean;
  /** Nothing of it is stored. */
  readonly off_record: boolean;
  /** Somebody else enters what the person says. */
  readonly examined: boolean;
  readonly eye: EyeName;
  /** The display its plates were made for. */
  readonly made_for: string;
  readonly state: 'running' | 'ended';
  readonly tell: Tell;
  readonly size_px: number;
  readonly exposure_ms: number;
  readonly grace_ms: number;
  /** Of `symbols`, the answer row of the round at hand. */
  readonly family: Family;
  readonly symbols: readonly string[];
  readonly answered: number;
  readonly round: Round | null;
}

const roundName = oneOf('warm-up', 'first', 'which-kind', 'blue-yellow', 'again');
export const eyeName: Decoder<EyeName> = oneOf('both', 'right', 'left');
const round = record<Round>({
  name: roundName, place: count, of: count, figures: oneOf(1, 2),
  items: list(record<RoundItem>({item: count, plate: id, answered: flag, repeat: otherwise(flag, false)})),
});

export const sittingState: Decoder<SittingState> = record<SittingState>({
  sitting: id, practical: id, practical_name: text, pseudonym: text, on_loan: flag, off_record: flag,
  examined: otherwise(flag, false), eye: otherwise(eyeName, 'both'), made_for: text, state: oneOf('running', 'ended'),
  tell: oneOf('tell', 'dont_tell', 'later'), size_px: count, exposure_ms: finite, grace_ms: finite,
  family: oneOf('digits', 'rings', 'paths'), symbols: list(text), answered: count, round: nullable(round),
});

export type End = 'answered' | 'late' | 'expired' | 'interrupted';
const end = oneOf('answered', 'late', 'expired', 'interrupted');

export interface AnswerBody {
  readonly item: number;
  readonly symbols: readonly string[];
  readonly end: End;
  readonly onset_ms: number;
  readonly response_ms: number | null;
  readonly shown_ms: number;
  readonly frames: number;
  readonly hidden: boolean;
  readonly page_load: string;
  /** Frames the screen skipped while the plate stood: said where there were some. */
  readonly dropped?: number;
  /** What an examiner noted: said where there is something to say. */
  readonly hesitated?: true;
  readonly first_symbols?: readonly string[];
  /** Drawn over a path's plate: x and y from 0 to 1 of the picture, ms since it appeared. */
  readonly strokes?: readonly (readonly Drawn[])[];
}
export type Drawn = readonly [x: number, y: number, ms: number];

const drawn: Decoder<Drawn> = (value, place) => {
  const [x, y, ms] = list(finite)(value, place);
  if (x === undefined || y === undefined || ms === undefined) throw new Unreadable(place, 'a point with its time');
  return [x, y, ms];
};

interface AllOfAnswer extends Omit<AnswerBody, 'dropped' | 'hesitated' | 'first_symbols' | 'strokes'> {
  readonly dropped: number;
  readonly hesitated: boolean;
  readonly first_symbols: readonly string[] | null;
  readonly strokes: readonly (readonly Drawn[])[];
}

/** Also used to read answers back from the browser's own storage. */
export const answerBody: Decoder<AnswerBody> = (value, place) => {
  const {dropped, hesitated, first_symbols, strokes, ...plain} = record<AllOfAnswer>({
    item: count, symbols: list(text), end, onset_ms: finite, response_ms: nullable(finite), shown_ms: finite,
    frames: count, hidden: flag, page_load: id, dropped: otherwise(count, 0), hesitated: otherwise(flag, false),
    first_symbols: otherwise<readonly string[] | null>(list(text), null), strokes: otherwise(list(list(drawn)), []),
  })(value, place);
  return {
    ...plain, ...(dropped > 0 ? {dropped} : {}), ...(hesitated ? {hesitated} : {}), ...(first_symbols === null ? {} : {first_symbols}), ...(strokes.length > 0 ? {strokes} : {}),
  };
};

export interface Receipt {
  readonly status: 'stored' | 'duplicate';
  readonly state: SittingState;
}

export const receipt: Decoder<Receipt> = record<Receipt>({status: oneOf('stored', 'duplicate'), state: sittingState});

export interface Caution {
  readonly intended_use: string;
  readonly whom_to_see: string;
}

export interface ObserverEvidence {
  readonly observer: string;
  readonly log10_likelihood: number;
  readonly relative: number;
}

export interface KindProbability {
  readonly kind: string;
  readonly evidence_only: number;
  readonly prior: number;
  readonly posterior: number;
}

export interface SeparationProbability {
  readonly separation_nm: number;
  readonly probability: number;
}

export interface Prediction {
  readonly observer: string;
  readonly reads: string;
  readonly intended: number;
  readonly second: number | null;
  readonly nothing: number;
  readonly other: number;
  readonly margins: string;
}

export interface OutcomePlate {
  readonly item: number;
  readonly round: RoundName;
  readonly name: string;
  readonly kind: string;
  readonly aim: string | null;
  readonly drawn: readonly string[];
  readonly answered: readonly string[];
  readonly end: End;
  /** Declared void by an examiner; it says nothing. */
  readonly void: boolean;
  readonly repeat: boolean;
  readonly hesitated: boolean;
  readonly first_symbols: readonly string[] | null;
  readonly line: DrawnLine | null;
  /** Why its time is not to be relied on. */
  readonly flaw: 'hidden' | 'dropped frames' | null;
  readonly as_drawn: boolean;
  readonly predictions: readonly Prediction[];
}

/** A drawn line against the way on the plate; lengths in units of the field's side. */
export interface DrawnLine {
  readonly followed: string | null;
  readonly how: 'followed' | 'followed in part' | 'not followed';
  readonly mean: number;
  readonly off_path: number;
  readonly completeness: number;
  readonly pen_lifts: number;
  readonly total_ms: number;
}

/** A plate that came again: both readings; the first one was weighed. */
export interface AgainPlate {
  readonly item: number;
  readonly name: string;
  readonly drawn: readonly string[];
  readonly before: readonly string[];
  readonly now: readonly string[];
  readonly agree: boolean;
}

export interface ToldOutcome {
  readonly told: true;
  /** Whose eyes were lent; null for none. */
  readonly lent: string | null;
  readonly interpretable: boolean;
  readonly caution: Caution;
  readonly verdict: string;
  readonly summary: string;
  readonly evidence: readonly ObserverEvidence[];
  readonly kinds: readonly KindProbability[];
  readonly separation: {
    readonly protan: readonly SeparationProbability[];
    readonly deutan: readonly SeparationProbability[];
  };
  readonly prior_text: string;
  readonly assumptions: readonly string[];
  readonly plates: readonly OutcomePlate[];
  readonly again: readonly AgainPlate[];
}

export interface UntoldOutcome {
  readonly told: false;
  readonly can_choose: boolean;
  /** A lot was drawn: nothing is told before the practical is closed. */
  readonly waits: boolean;
  readonly caution: Caution;
}

export type Outcome = ToldOutcome | UntoldOutcome;

const caution = record<Caution>({intended_use: text, whom_to_see: text});
const separation = list(record<SeparationProbability>({separation_nm: finite, probability: finite}));
const prediction = record<Prediction>({
  observer: text, reads: text, intended: finite, second: nullable(finite), nothing: finite, other: finite, margins: text,
});
const drawnLine = record<DrawnLine>({
  followed: nullable(text), how: oneOf('followed', 'followed in part', 'not followed'), mean: finite, off_path: finite,
  completeness: finite, pen_lifts: count, total_ms: finite,
});
const untold = record<UntoldOutcome>({told: oneOf(false), can_choose: flag, waits: flag, caution});
const told = record<ToldOutcome>({
  told: oneOf(true), lent: nullable(text), interpretable: flag, caution, verdict: text, summary: text,
  evidence: list(record<ObserverEvidence>({observer: text, log10_likelihood: finite, relative: finite})),
  kinds: list(record<KindProbability>({kind: text, evidence_only: finite, prior: finite, posterior: finite})),
  separation: record<ToldOutcome['separation']>({protan: separation, deutan: separation}),
  prior_text: text, assumptions: list(text),
  plates: list(record<OutcomePlate>({
    item: count, round: roundName, name: text, kind: text, aim: nullable(text), drawn: list(text),
    answered: list(text), end, void: flag, repeat: flag, hesitated: flag, first_symbols: nullable(list(text)), line: nullable(drawnLine), flaw: nullable(oneOf('hidden', 'dropped frames')), as_drawn: flag, predictions: list(prediction),
  })),
  again: list(record<AgainPlate>({item: count, name: text, drawn: list(text), before: list(text), now: list(text), agree: flag})),
});

export const outcome: Decoder<Outcome> = (value, place) => {
  const {told: isTold} = record<{told: boolean}>({told: flag})(value, place);
  return isTold ? told(value, place) : untold(value, place);
};

export const errorBody = record<{error: Omit<Trouble, 'status' | 'retryAfterMs'>}>({
  error: record<Omit<Trouble, 'status' | 'retryAfterMs'>>({
    code: text, thing: text, place: text, message: text, remedy: text,
  }),
});
