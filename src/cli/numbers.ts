import { InputError } from '../input-error.ts';

/** A whole number of an option, within bounds. */
export function wholeOf(option: string, lowest: number, highest: number): (text: string) => number {
  return (text) => {
    const value = /^\d+$/.test(text.trim()) ? Number(text) : Number.NaN;
    if (value >= lowest && value <= highest) return value;
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: `a whole number from ${lowest} to ${highest}`,
    });
  };
}

/** A probability of an option, such as a level. */
export function levelOf(text: string): number {
  const level = text.trim() === '' ? Number.NaN : Number(text);
  if (level > 0 && level < 1) return level;
  throw new InputError({
    file: '--level',
    found: JSON.stringify(text),
    wanted: 'a share between 0 and 1, such as 0.95',
  });
}

/** A range of metres such as `0-12000`. */
export function rangeOf(option: string): (text: string) => { nearestM: number; farthestM: number } {
  return (text) => {
    const found = /^\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*$/.exec(text);
    const [nearestM, farthestM] = found === null ? [0, 0] : [Number(found[1]), Number(found[2])];
    if (farthestM > nearestM && farthestM <= 100_000) return { nearestM, farthestM };
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: 'two distances in metres, the nearer first, such as 0-12000',
    });
  };
}

/** Whole numbers of an option, with commas between them. */
export function numbersOf(option: string, lowest: number, highest: number): (text: string) => number[] {
  const one = wholeOf(option, lowest, highest);
  return (text) => [...new Set(text.split(',').map(one))];
}

/**
 * Reads an option's value as a number between two bounds, both allowed.
 *
 * @throws InputError, by the function returned, that names the option
 */
export function between(option: string, low: number, high: number): (text: string) => number {
  return (text) => {
    const value = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(text.trim()) ? Number(text) : Number.NaN;
    if (value >= low && value <= high) return value;
    throw new InputError({
      file: option,
      found: JSON.stringify(text),
      wanted: `a number from ${low} to ${high}`,
    });
  };
}

/** Reads a port of an option. */
export function portOf(text: string): number {
  if (/^\d{1,5}$/.test(text) && Number(text) <= 65_535) return Number(text);
  throw new InputError({ file: '--port', found: JSON.stringify(text), wanted: 'a port from 0 to 65535' });
}
