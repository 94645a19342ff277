import { expect, test } from 'vitest';
import { firstNamed } from '../../src/study/first-named.ts';

test('up to three are named, of more the first three, with how many and a hint', () => {
  expect(firstNamed([])).toBe('');
  expect(firstNamed(['a', 'b', 'c'], '; see all')).toBe('a, b, c');
  expect(firstNamed(['a', 'b', 'c', 'd', 'e'], '; see all')).toBe('a, b, c and 2 more; see all');
});
