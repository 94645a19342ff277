import type { TrainCandidate } from '../../src/dance/find-trains.ts';

/** What a made candidate may be otherwise than usual. */
interface Made extends Partial<TrainCandidate> {
  readonly pulseCount?: number;
}

/** A candidate by hand: pulses every 50 ms from its start to its end, at 260 Hz, ten times as strong as the noise. */
export function madeTrain(
  startS: number,
  { pulseCount = 11, beatS = 0.05, ...more }: Made = {},
): TrainCandidate {
  const pulseTimesS = more.pulseTimesS ?? Array.from({ length: pulseCount }, (_, k) => startS + k * beatS);
  return {
    startS,
    endS: pulseTimesS.at(-1)!,
    beatS,
    carrierHz: 260,
    pulseTimesS,
    pulseRatios: pulseTimesS.map(() => 10),
    pulseBesides: pulseTimesS.map(() => 0.1),
    pulseRatio: 10,
    evidence: 30,
    tuning: 0.4,
    gapShare: 0.1,
    chainScore: 20,
    guided: false,
    ...more,
  };
}
