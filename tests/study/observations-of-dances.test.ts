import { describe, expect, test } from 'vitest';
import { observationsOfDances } from '../../src/study/observations-of-dances.ts';
import type { TrainRow } from '../../src/study/tables.ts';
import { trainRow } from './made-row.ts';

const run = (startS: number, more: Partial<TrainRow> = {}) => trainRow(startS, startS + 1, more);
const notes = new Map([['d1', { beeId: 'red-1', distanceM: 500, treatment: null }]]);
const circuits = (rows: readonly TrainRow[]) =>
  observationsOfDances(rows, notes).map((row) => row.circuits_per_15s);

describe('circuits of a dance, from the starts of its runs', () => {
  // Circuits of 3 s are five in 15 s; the median of those below stays 3 s.
  const startsWith = (gapS: number) => [0, 3, 6, 9, 9 + gapS, 12 + gapS].map((startS) => run(startS));

  test('one that took 1.5 times as long as most is one, 15 s over it', () => {
    expect(circuits(startsWith(4.5))).toEqual([5, 5, 5, 3.333, 5, null]);
  });

  test('one that took 1.7 times as long, or twice, has a run that went unheard', () => {
    for (const gapS of [5.1, 6]) expect(circuits(startsWith(gapS))).toEqual([5, 5, 5, null, 5, null]);
  });

  test('none leads from one recording into the next, or to a rejected run', () => {
    const two = [0, 3, 6].map((startS) => run(startS));
    const next = [9, 12].map((startS) => run(startS, { recording: 'next.wav' }));
    expect(circuits([...two, ...next])).toEqual([5, 5, null, 5, null]);
    expect(circuits([...two, run(9, { status: 'rejected' })])).toEqual([5, 5, null]);
  });
});

test('runs come in the order danced, and one without a duration has none', () => {
  const rows = observationsOfDances(
    [run(3, { end_s: 4.5, duration_s: 1.5 }), run(0, { duration_s: null })],
    notes,
  );
  expect(rows).toEqual([
    {
      bee_id: 'red-1',
      dance_id: 'd1',
      distance_m: 500,
      duration_s: null,
      circuits_per_15s: 5,
      treatment: null,
    },
    {
      bee_id: 'red-1',
      dance_id: 'd1',
      distance_m: 500,
      duration_s: 1.5,
      circuits_per_15s: null,
      treatment: null,
    },
  ]);
});
