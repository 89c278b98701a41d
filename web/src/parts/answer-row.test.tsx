// @vitest-environment happy-dom
import {render} from 'preact';
import {expect, test, vi} from 'vitest';

import {AnswerRow} from './answer-row.tsx';

const idle = {onSymbol: () => undefined, onNoFigure: () => undefined, onDone: () => undefined};

function shown(vnode: preact.ComponentChild): HTMLElement {
  const root = document.createElement('div');
  render(vnode, root);
  return root;
}
const buttons = (root: HTMLElement) => Array.from(root.querySelectorAll('button'));

test('each symbol and "no figure for me" is a button that names its key', () => {
  const root = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={[]} figures={1} open {...idle} />);
  expect(buttons(root).map((button) => [button.textContent, button.getAttribute('aria-keyshortcuts')])).toEqual(
    [['1key 1', '1'], ['7key 7', '7'], ['no figure for me key N', 'N']],
  );
});

test('where the page listens to no keys, none is named', () => {
  const root = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={['1']} figures={2} open keyed={false} {...idle} />);
  expect(buttons(root).map((button) => [button.textContent, button.getAttribute('aria-keyshortcuts')])).toEqual(
    [['1', null], ['7', null], ['no figure for me', null], ['Done', null]],
  );
});

test('a click says which symbol, once', () => {
  const onSymbol = vi.fn();
  const root = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={[]} figures={1} open {...idle} onSymbol={onSymbol} />);
  buttons(root)[1]!.click();
  expect(onSymbol.mock.calls.map(([symbol]) => symbol as string)).toEqual(['7']);
});

test('nothing can be pressed while no answer is taken', () => {
  const root = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={['1']} figures={2} open={false} {...idle} />);
  expect(buttons(root).every((button) => button.disabled)).toBe(true);
});

test('where two may be chosen, what is chosen is pressed, and Done waits for a choice', () => {
  const none = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={[]} figures={2} open {...idle} />);
  const one = shown(<AnswerRow family="digits" symbols={['1', '7']} chosen={['7']} figures={2} open {...idle} />);
  expect(buttons(none).at(-1)!.disabled).toBe(true);
  expect(buttons(one).at(-1)!.disabled).toBe(false);
  expect(buttons(one).map((button) => button.getAttribute('aria-pressed'))).toEqual(['false', 'true', null, null]);
});

test('rings are drawn and named, each with its arrow', () => {
  const root = shown(<AnswerRow family="rings" symbols={['up', 'right', 'down', 'left']} chosen={[]} figures={1} open {...idle} />);
  const rings = buttons(root).slice(0, 4);
  expect(rings.map((button) => button.querySelector('svg')!.getAttribute('aria-label'))).toEqual(
    ['gap up', 'gap right', 'gap down', 'gap left'],
  );
  expect(rings.map((button) => button.querySelector('path')!.getAttribute('transform'))).toEqual(
    ['rotate(0)', 'rotate(90)', 'rotate(180)', 'rotate(270)'],
  );
  expect(rings.map((button) => [button.textContent, button.getAttribute('aria-keyshortcuts')])).toEqual(
    [['key ↑', 'ArrowUp'], ['key →', 'ArrowRight'], ['key ↓', 'ArrowDown'], ['key ←', 'ArrowLeft']],
  );
  expect(root.querySelector('[role=group]')!.getAttribute('aria-label')).toBe('Where is the gap?');
});

test('gates are said in words and go by their number', () => {
  const root = shown(<AnswerRow family="paths" symbols={['gate 1', 'gate 2']} chosen={[]} figures={1} open {...idle} />);
  expect(buttons(root).slice(0, 2).map((button) => button.textContent)).toEqual(['gate 1key 1', 'gate 2key 2']);
  expect(root.querySelector('[role=group]')!.getAttribute('aria-label')).toBe('At which gate does it come out?');
});
