// @vitest-environment happy-dom
import {render} from 'preact';
import {expect, test} from 'vitest';

import {EvidenceTable, SeparationStrip} from './weighing.tsx';

function shown(vnode: preact.ComponentChild): HTMLElement {
  const root = document.createElement('div');
  render(vnode, root);
  return root;
}
const strip = (steps: number) => Array.from({length: steps}, (_, at) => ({separation_nm: (28 * at) / (steps - 1), probability: 1 / steps}));
const visibleLabels = (root: HTMLElement) =>
  Array.from(root.querySelectorAll('.strip-nm > span:not(.spoken)'), (label) => label.textContent);

test('a strip runs from 28 nm down to 0 nm, whatever the order it came in', () => {
  const labels = visibleLabels(shown(<SeparationStrip kind="protan" rows={strip(8)} />));
  expect(labels).toEqual(['28', '24', '20', '16', '12', '8', '4', '0']);
});

test('a fine strip labels its landmarks and lists every number below', () => {
  const root = shown(<SeparationStrip kind="protan" rows={strip(29)} />);
  expect(visibleLabels(root)).toEqual(['28', '20', '10', '5', '0']);
  expect(root.querySelectorAll('.strip-list li')).toHaveLength(29);
});

test('the highest bar is full and the others are in proportion', () => {
  const root = shown(<SeparationStrip kind="deutan" rows={[{separation_nm: 0, probability: 0.6}, {separation_nm: 5, probability: 0.3}]} />);
  expect(Array.from(root.querySelectorAll<HTMLElement>('.strip-bar'), (bar) => bar.style.height)).toEqual(['50%', '100%']);
});

test('the evidence keeps the order it came in and says each number', () => {
  const root = shown(<EvidenceTable evidence={[
    {observer: 'protan:5', log10_likelihood: -2, relative: 1}, {observer: 'normal', log10_likelihood: -4.5, relative: 0.00316},
  ]} />);
  const cells = Array.from(root.querySelectorAll('tbody tr'), (row) => Array.from(row.children, (cell) => cell.textContent));
  expect(cells).toEqual([['protan, 5 nm', '1', '−2.00'], ['normal', '1 in 320', '−4.50']]);
});
