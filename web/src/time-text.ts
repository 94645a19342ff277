/** `1:02:03.4`: time into the recording. @param digits after the point */
export function timeText(timeS: number, digits = 1): string {
  const tick = 10 ** digits;
  const whole = Math.round(Math.max(0, timeS) * tick);
  const seconds = Math.floor(whole / tick);
  const two = (n: number) => String(n).padStart(2, '0');
  const hours = Math.floor(seconds / 3600);
  const minutes = Math.floor(seconds / 60) % 60;
  const rest = digits === 0 ? '' : `.${String(whole % tick).padStart(digits, '0')}`;
  const tail = `${two(seconds % 60)}${rest}`;
  return hours > 0 ? `${hours}:${two(minutes)}:${tail}` : `${minutes}:${tail}`;
}

/** Clock time `09:31` at a place in the recording, as the clock at the hive showed it; null when not known. */
export function clockText(startTime: string | null, timeS: number): string | null {
  const match = startTime === null ? null : /T(\d{2}):(\d{2}):?(\d{2})?/.exec(startTime);
  if (match === null) return null;
  const start = Number(match[1]) * 3600 + Number(match[2]) * 60 + Number(match[3] ?? 0);
  const at = Math.floor(start + timeS) % 86_400;
  const two = (n: number) => String(n).padStart(2, '0');
  return `${two(Math.floor(at / 3600))}:${two(Math.floor(at / 60) % 60)}`;
}

/** `0.482 s`, or a dash where there is nothing to tell. */
export function secondsText(valueS: number | null, digits = 3): string {
  return valueS === null ? '–' : `${valueS.toFixed(digits)} s`;
}

/** Steps for axes: the smallest of the list that leaves at most `most` of them in a span. */
export function axisStep(span: number, most: number, steps: readonly number[]): number {
  return steps.find((step) => span / step <= most) ?? steps.at(-1)!;
}

export const TIME_STEPS_S = [
  0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400,
];
