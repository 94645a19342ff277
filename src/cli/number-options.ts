import { InputError } from '../input-error.ts';

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
