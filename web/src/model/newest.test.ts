import {expect, test} from 'vitest';

import {createNewest} from './newest.ts';

/** A server that answers when told to. */
function slowServer() {
  const asked: number[] = [];
  const replies: ((answer: string) => void)[] = [];
  return {
    asked,
    send: (state: number) => {
      asked.push(state);
      return new Promise<string>((done) => replies.push(done));
    },
    reply: async (answer: string) => {
      replies.shift()!(answer);
      await new Promise((done) => setTimeout(done));
    },
  };
}

test('the first is asked at once, then the newest, and nothing in between', async () => {
  const server = slowServer();
  const taken: [string, number][] = [];
  const newest = createNewest(server.send, (answer: string, state: number) => taken.push([answer, state]));
  for (const state of [1, 2, 3, 4]) newest.ask(state);
  expect(server.asked).toEqual([1]);
  await server.reply('one');
  expect(server.asked).toEqual([1, 4]);
  await server.reply('four');
  expect(taken).toEqual([['one', 1], ['four', 4]]);
  newest.ask(5);
  expect(server.asked).toEqual([1, 4, 5]);
});

test('never more than one is under way', async () => {
  let underWay = 0;
  let most = 0;
  const newest = createNewest(async () => {
    most = Math.max(most, ++underWay);
    await new Promise((done) => setTimeout(done, 1));
    underWay--;
  }, () => undefined);
  for (let state = 0; state < 20; state++) {
    newest.ask(state);
    await new Promise((done) => setTimeout(done));
  }
  expect(most).toBe(1);
});

test('after stopping nothing is asked or taken', async () => {
  const server = slowServer();
  const taken: string[] = [];
  const newest = createNewest(server.send, (answer: string) => taken.push(answer));
  newest.ask(1);
  newest.ask(2);
  newest.stop();
  await server.reply('one');
  newest.ask(3);
  expect([server.asked, taken]).toEqual([[1], []]);
});
