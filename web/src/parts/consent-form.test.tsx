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
  submit();
  expect(given).toEqual([]);
});

test('what was chosen is what is given', () => {
  const {given, check, submit} = shown();
  check('tell-dont_tell');
  check('consent');
  submit();
  check('sex-female');
  submit();
  expect(given).toEqual([
    {tell: 'dont_tell', sex_at_birth: null, on_loan: false}, {tell: 'dont_tell', sex_at_birth: 'female', on_loan: false},
  ]);
});

test('where observers are lent, own eyes and the lot stand equal and neither is chosen beforehand', () => {
  const {root, given, check, submit} = shown(true);
  expect(Array.from(root.querySelectorAll<HTMLInputElement>('[name=loan]')).filter((input) => input.checked)).toEqual([]);
  check('tell-later');
  check('consent');
  check('loan-lot');
  submit();
  expect(given[0]?.on_loan).toBe(true);
});
