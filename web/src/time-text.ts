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

/** Time of day at which a recording starts, s from midnight as the clock at the hive showed it; null when not known. */
export function clockStartS(startTime: string | null): number | null {
  const match = startTime === null ? null : /T(\d{2}):(\d{2}):?(\d{2})?/.exec(startTime);
  return match === null ? null : Number(match[1]) * 3600 + Number(match[2]) * 60 + Number(match[3] ?? 0);
}

/** Clock time `09:31`, or `09:31:20`, at a place in the recording; null when not known. */
export function clockText(startTime: string | null, timeS: number, seconds = false): string | null {
  const startS = clockStartS(startTime);
  if (startS === null) return null;
  const at = Math.floor(startS + timeS + 1e-6) % 86_400;
  const two = (n: number) => String(n).padStart(2, '0');
  const minute = `${two(Math.floor(at / 3600))}:${two(Math.floor(at / 60) % 60)}`;
  return seconds ? `${minute}:${two(at % 60)}` : minute;
}

/**
 * Places of an axis, s into a recording: at round clock times where the clock is known, else at round times.
 *
 * @returns from the first at or after the start to the recording's end
 */
export function axisTimes(durationS: number, stepS: number, startTime: string | null): number[] {
  const startS = clockStartS(startTime) ?? 0;
  const firstS = Math.ceil(startS / stepS - 1e-9) * stepS - startS;
  const count = Math.floor((durationS - firstS) / stepS + 1e-9) + 1;
  return Array.from({ length: Math.max(0, count) }, (_, k) => firstS + k * stepS);
}

/** `0.482 s`, or a dash where there is nothing to tell. */
export function secondsText(valueS: number | null, digits = 3): string {
  return valueS === null ? '–' : `${valueS.toFixed(digits)} s`;
}

/** Steps for axes: the smallest of the list that leaves at most `most` of them in a span. */
export function axisStep(span: number, most: number, steps: readonly number[]): number {
  return steps.find((step) => span / step <= most) ?? steps.at(-1)!;
}

/** What a digit or colon of an axis takes, and what stands before the first, px. */
const CHARACTER_PX = 7;
const BEFORE_PX = 5;
const MOST_LABELS = 9;
const WIDE_PX = 850;

export interface AxisLabel {
  readonly timeS: number;
  readonly words: string;
}

/**
 * Labels of a window's time axis, none over another and none cut by the axis's end: as many as there is room for, nine
 * at most.
 *
 * @param widthPx of the axis, 0 while it is not known
 */
export function axisLabels(fromS: number, spanS: number, widthPx: number): AxisLabel[] {
  const wordsAt = (timeS: number, stepS: number) => timeText(timeS, stepS < 0.1 ? 2 : stepS < 1 ? 1 : 0);
  const px = (words: string) => BEFORE_PX + CHARACTER_PX * words.length;
  const room = widthPx === 0 ? WIDE_PX : widthPx;
  const fits = (stepS: number) =>
    spanS / stepS <= MOST_LABELS && px(wordsAt(fromS + spanS, stepS)) < (room * stepS) / spanS;
  const stepS = TIME_STEPS_S.find(fits) ?? TIME_STEPS_S.at(-1)!;
  const first = Math.ceil(fromS / stepS);
  const count = Math.max(0, Math.floor((fromS + spanS) / stepS) - first + 1);
  return Array.from({ length: count }, (_, k) => (first + k) * stepS)
    .map((timeS) => ({ timeS, words: wordsAt(timeS, stepS) }))
    .filter(({ timeS, words }) => {
      const share = (timeS - fromS) / spanS;
      return share <= 0.96 && share * room + px(words) <= room;
    });
}

export const TIME_STEPS_S = [
  0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400,
];
