import { LEAST_LEFT } from './hidden.ts';
import type { SegmentView, Span } from './segment-view.ts';

const STEP_S = 0.004;

/** Whether a time lies in one of some stretches. */
export function isWithin(spans: readonly Span[], timeS: number): boolean {
  for (const [fromS, toS] of spans) if (timeS > fromS && timeS < toS) return true;
  return false;
}

/** For how long, s, calls or the pulses of trains taken out hide what sounds at a carrier between two times. */
export function hiddenTimeS(
  { covered, hiddenAt }: SegmentView,
  { startS, endS, carrierHz }: { readonly startS: number; readonly endS: number; readonly carrierHz: number },
): number {
  const spans = covered.filter(([fromS, toS]) => fromS < endS && toS > startS);
  if (spans.length === 0 && hiddenAt === null) return 0;
  let sum = 0;
  for (let timeS = startS; timeS < endS; timeS += STEP_S) {
    const isHidden =
      isWithin(spans, timeS) || (hiddenAt !== null && 1 - hiddenAt(timeS, carrierHz) < LEAST_LEFT);
    if (isHidden) sum += STEP_S;
  }
  return sum;
}
