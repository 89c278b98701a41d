import {describe, expect, test} from 'vitest';

import {inventedWords, rehearsal, rehearsalWords} from './rehearsal.ts';

describe('a rehearsal', () => {
  test('is read and said', () => {
    const read = rehearsal({
      words: 'INVENTED', rehearsal: {
        stage: 'plays', address: 'http://127.0.0.1:1/practical/x', practical: 'a'.repeat(32), people: 30, seed: 1, trouble: null,
        report: {people: 30, sittings: 27, ended: 12, off_record: 0, answers: 340, queued: 4},
      },
    }, 'reply');
    expect(rehearsalWords(read.rehearsal!)).toBe('It plays: 27 of 30 invented people have begun, 12 are through; 340 answers.');
    const {report} = read.rehearsal!;
    expect(rehearsalWords({...read.rehearsal!, report: {...report, off_record: 1}})).toBe(
      'It plays: 27 of 30 invented people have begun (1 off the record, counted nowhere else), 12 are through; 340 answers.',
    );
    expect(rehearsal({words: 'INVENTED', rehearsal: null}, 'reply').rehearsal).toBeNull();
  });
  test('is known by the page that the program sent', () => {
    expect(inventedWords({dataset: {}})).toBeNull();
    expect(inventedWords({dataset: {invented: 'INVENTED: rehearsal'}})).toBe('INVENTED: rehearsal');
  });
});
