import {expect, test} from 'vitest';

import {frame, interrupt, type Limits, type Over, remainingShare, respond, settleWithChoice, show, waiting} from './exposure.ts';

const limits: Limits = {exposureMs: 3000, graceMs: 10_000};

test('a plate blanks at its limit, not before', () => {
  const shown = show(1000, limits);
  expect(frame(shown, 3999).phase).toBe('shown');
  expect(frame(shown, 4000)).toMatchObject({phase: 'blank', shownMs: 3000});
});

test('every frame in which the plate stood is counted, the blanking one is not', () => {
  let exposure = show(0, {exposureMs: 100, graceMs: 1000});
  for (const nowMs of [16, 33, 50, 66, 83, 100, 116]) exposure = frame(exposure, nowMs);
  expect(exposure).toMatchObject({phase: 'blank', frames: 6, shownMs: 100});
});

test('an answer while the plate stands ends it and keeps the raw time', () => {
  expect(respond(show(1000, limits), 2500)).toMatchObject({end: 'answered', responseMs: 2500, shownMs: 1500});
});

test('an answer in the grace is kept and marked late', () => {
  expect(respond(frame(show(1000, limits), 4010), 4500)).toMatchObject({end: 'late', responseMs: 4500, shownMs: 3010});
});

test('an answer made in time is in time even if the blanking frame was handled first', () => {
  expect(respond(frame(show(1000, limits), 4010), 3999)).toMatchObject({end: 'answered', responseMs: 3999});
});

test('after the grace it is an expiry, however late the frame or the answer', () => {
  expect(frame(show(1000, limits), 60_000)).toMatchObject({end: 'expired', responseMs: null});
  expect(respond(show(1000, limits), 60_000)).toMatchObject({end: 'expired', responseMs: null});
});

test('an answer before onset is ignored', () => {
  expect(respond(waiting, 10)).toBe(waiting);
  const shown = show(1000, limits);
  expect(respond(shown, 999)).toBe(shown);
});

test('a second answer changes nothing', () => {
  const first = respond(show(0, limits), 500);
  expect(respond(first, 600)).toBe(first);
  expect(interrupt(first, 600)).toBe(first);
});

test('an interrupted item has no response', () => {
  expect(interrupt(show(1000, limits), 1800)).toMatchObject({end: 'interrupted', responseMs: null, shownMs: 800});
});

test('what stood chosen when time ran out counts from the last choice', () => {
  const expired = frame(show(0, limits), 13_000) as Over;
  expect(settleWithChoice(expired, 2000, limits)).toMatchObject({end: 'answered', responseMs: 2000});
  expect(settleWithChoice(expired, 5000, limits)).toMatchObject({end: 'late', responseMs: 5000});
});

test('the border goes from whole to nothing and never past either end', () => {
  const shown = show(1000, limits);
  expect(remainingShare(waiting, 0)).toBe(1);
  expect(remainingShare(shown, 900)).toBe(1);
  expect(remainingShare(shown, 2500)).toBe(0.5);
  expect(remainingShare(shown, 9000)).toBe(0);
});
