// Asking about a state that changes faster than it can be answered: the newest state wins, and no queue ever grows.

export interface Newest<State> {
  /** Asks at once, or as soon as the answer under way has come; a state asked for in between is forgotten. */
  readonly ask: (state: State) => void;
  /** Nothing is asked or taken any more. */
  readonly stop: () => void;
}

/** `send` must not throw; `take` gets every answer that came, in the order asked. */
export function createNewest<State, Answer>(
  send: (state: State) => Promise<Answer>, take: (answer: Answer, state: State) => void,
): Newest<State> {
  let waiting: {readonly state: State} | null = null;
  let underWay = false;
  let stopped = false;

  async function run(first: State): Promise<void> {
    underWay = true;
    let next: {readonly state: State} | null = {state: first};
    while (next !== null && !stopped) {
      const {state}: {readonly state: State} = next;
      const answer = await send(state);
      if (!stopped) take(answer, state);
      next = waiting;
      waiting = null;
    }
    underWay = false;
  }

  return {
    ask: (state) => {
      if (stopped) return;
      if (underWay) waiting = {state};
      else void run(state);
    },
    stop: () => {
      stopped = true;
      waiting = null;
    },
  };
}
