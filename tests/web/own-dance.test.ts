import { describe, expect, test } from 'vitest';
import { canBeOwnDance } from '../../web/src/own-dance.ts';

const run = (danceId: string | null, status: 'found' | 'accepted' | 'rejected' = 'found') =>
  ({ kind: 'train', danceId, status }) as const;
const call = { kind: 'begging', danceId: null, status: 'found' } as const;
/** Of three runs that are not rejected. */
const runCount = (danceId: string) => (danceId === 'd1' ? 3 : undefined);

describe('a dance of their own can be made of', () => {
  test.each([
    ['a lone run', [run(null)]],
    ['a run of a dance', [run('d1')]],
    [
      'some of its runs, a rejected one beside them',
      [run('d1'), run('d1', 'accepted'), run('d1', 'rejected')],
    ],
    ['runs of two dances', [run('d1'), run('d1'), run('d1'), run('d2')]],
    ['a run of a dance that is not known here', [run('d9')]],
  ])('%s', (_, some) => expect(canBeOwnDance(some, runCount)).toBe(true));
});

describe('no dance of their own can be made of', () => {
  test.each([
    ['nothing', []],
    ['a call', [call]],
    ['a run and a call', [run('d1'), call]],
    ['what is rejected', [run('d1', 'rejected')]],
    ['all the runs of a dance', [run('d1'), run('d1'), run('d1')]],
    ['all but those rejected', [run('d1'), run('d1'), run('d1'), run('d1', 'rejected')]],
  ])('%s', (_, some) => expect(canBeOwnDance(some, runCount)).toBe(false));
});
