import { expect, test, vi } from 'vitest';
import { tellLeftOut } from '../../src/cli/left-out.ts';

test('dances left out for one reason are one line, which names three, or all where a program reads', () => {
  let said = '';
  const spy = vi.spyOn(process.stderr, 'write').mockImplementation((text) => {
    said += String(text);
    return true;
  });
  const leftOut = [1, 2, 3, 4, 5].map((k) => ({
    danceId: `d${k}`,
    reason: k === 2 ? 'no feeder' : 'two open',
  }));
  tellLeftOut(leftOut, false);
  tellLeftOut(leftOut, true, 'not mapped');
  tellLeftOut([], true);
  spy.mockRestore();
  expect(said.split('\n')).toEqual([
    'combtone: warning: 4 dances left out: two open (d1, d3, d4 and 1 more; --json names all)',
    'combtone: warning: dance d2 left out: no feeder',
    'combtone: warning: 4 dances not mapped: two open (d1, d3, d4, d5)',
    'combtone: warning: dance d2 not mapped: no feeder',
    '',
  ]);
});
