import { describe, expect, test } from 'vitest';
import { textTable } from '../../src/study/text-table.ts';

describe('a table for a terminal', () => {
  const aligned = (cells: readonly string[]) =>
    textTable([['a long head', 'end'], ...cells.map((cell) => [cell, '.'])])
      .split('\n')
      .slice(1)
      .map((line) => (line.startsWith(' ') ? 'right' : 'left'));

  test.each([
    ['numbers', ['7', '-12.50', '−3', '+4', '1,234', '.5', '1.23e-7']],
    ['numbers with units', ['12 %', '5%', '3°', '0.4 s', '12 ms', '-6 dB']],
    ['numbers and dashes for what is not known', ['7', '-', '–', '12']],
  ])('%s stand to the right', (_, cells) => {
    expect(aligned(cells)).toEqual(cells.map(() => 'right'));
  });

  test('an empty cell makes no text of a column of numbers', () => {
    expect(textTable([['length'], ['7'], [''], ['12']])).toBe('length\n     7\n\n    12');
  });

  test.each([
    ['bees of one letter', ['a', 'b']],
    ['short words', ['yes', 'no']],
    ['short marks of letters and digits', ['R', '7b']],
    ['signs', ['+', '-+']],
    ['points', ['...', '.']],
    ['numbers beside a word', ['7', 'none']],
  ])('%s stand to the left', (_, cells) => {
    expect(aligned(cells)).toEqual(cells.map(() => 'left'));
  });
});
