// @vitest-environment happy-dom
import {render} from 'preact';
import {expect, test} from 'vitest';

import {type Consent, ConsentForm} from './consent-form.tsx';

function shown(lends = false): {readonly root: HTMLElement; readonly given: Consent[]; readonly check: (id: string) => void; readonly submit: () => void} {
  const root = document.createElement('div');
  document.body.replaceChildren(root);
  const given: Consent[] = [];
  render(<ConsentForm busy={false} lends={lends} onConsent={(consent) => given.push(consent)} />, root);
  const check = (id: string) => { (root.querySelector(`#${id}`) as HTMLInputElement).checked = true; };
  const submit = () => { root.querySelector('form')!.dispatchEvent(new Event('submit', {bubbles: true, cancelable: true})); };
  return {root, given, check, submit};
}

test('nothing about being told is chosen beforehand, and saying nothing about sex is', () => {
  const {root} = shown();
  const checked = Array.from(root.querySelectorAll<HTMLInputElement>('input')).filter((input) => input.checked || input.defaultChecked);
  expect(checked.map((input) => input.id)).toEqual(['sex-none']);
});

test('without consent or without a choice nothing is sent', () => {
  const {given, check, submit} = shown();
  check('tell-later');
  check('way-kept');
  submit();
  expect(given).toEqual([]);
});

test('what was chosen is what is given', () => {
  const {given, check, submit} = shown();
  check('tell-dont_tell');
  check('consent');
  submit();
  expect(given).toEqual([]);
  check('way-kept');
  submit();
  check('sex-female');
  submit();
  expect(given).toEqual([
    {tell: 'dont_tell', sex_at_birth: null, on_loan: false, off_record: false, purposes: [], examined: false, eye: 'both'}, {tell: 'dont_tell', sex_at_birth: 'female', on_loan: false, off_record: false, purposes: [], examined: false, eye: 'both'},
  ]);
});

test('ways to take part stand equal, none is chosen beforehand, and the lot is there where observers are lent', () => {
  const ways = (root: HTMLElement) => Array.from(root.querySelectorAll<HTMLInputElement>('[name=way]'));
  expect(ways(shown().root).map(({value}) => value)).toEqual(['kept', 'examined', 'off']);
  const {root, given, check, submit} = shown(true);
  expect(ways(root).map(({value, checked}) => [value, checked])).toEqual([['kept', false], ['examined', false], ['lot', false], ['off', false]]);
  check('tell-later');
  check('consent');
  check('way-lot');
  submit();
  check('way-off');
  submit();
  expect(given.map(({on_loan: lot, off_record: off}) => [lot, off])).toEqual([[true, false], [false, true]]);
});

test('each purpose is agreed to by itself', () => {
  const {given, check, submit} = shown();
  check('tell-later');
  check('consent');
  check('way-kept');
  check('purpose-class');
  submit();
  check('purpose-research');
  submit();
  expect(given.map(({purposes}) => purposes)).toEqual([['class'], ['class', 'research']]);
});
