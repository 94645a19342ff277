import { describe, expect, test } from 'vitest';
import { pairedRuns } from '../../src/study/dance-times.ts';
import type { ObservedDance } from '../../src/study/observations.ts';

/** Circuits of 2, 3, 4, 5 and 6 s; one of them, or a run, was not timed where so given. */
const dance = (
  durationsS: readonly (number | null)[],
  tempos: readonly (number | null)[],
): ObservedDance => ({
  danceId: 'd1',
  beeId: null,
  distanceM: null,
  treatment: null,
  durationsS,
  circuitsPer15s: tempos,
});
const tempos = [7.5, 5, 3.75, 3, 2.5];

describe('runs that have both a duration and a circuit', () => {
  test('are summed up by hand: the inner three of five', () => {
    // Durations 0.5, 0.7, 0.9 s and circuits 3, 4, 5 s: squares 0.08, products 0.4, squares 2.
    const { paired, squares } = pairedRuns(dance([9, 0.5, 0.7, 0.9, 9], tempos), 'inner');
    expect(paired).toBe(3);
    expect(squares).toEqual([expect.closeTo(0.08, 12), expect.closeTo(0.4, 12), expect.closeTo(2, 12)]);
  });

  test('are those alone: a run without either has no part in the means', () => {
    const { paired, squares } = pairedRuns(
      dance([0.5, null, 0.9, 0.1, 0.2], [7.5, 5, 3.75, null, null]),
      'all',
    );
    // 0.5 and 0.9 s with 2 and 4 s.
    expect(paired).toBe(2);
    expect(squares).toEqual([expect.closeTo(0.08, 12), expect.closeTo(0.4, 12), expect.closeTo(2, 12)]);
    expect(pairedRuns(dance([null, 0.5], [5, null]), 'all')).toEqual({
      danceId: 'd1',
      paired: 0,
      squares: [0, 0, 0],
    });
  });
});
