import { type Call, nameCalls } from './call-kinds.ts';
import { findTones, type Tone } from './find-calls.ts';
import type { TrainCandidate } from './find-trains.ts';
import { callConfidence, likeliestTones } from './judge.ts';
import { judgeTrains } from './judge-trains.ts';
import { keptSegmentRoom, type SegmentView, viewSegment } from './segment-view.ts';
import type { Segment } from './segments.ts';
import type { DetectorSettings } from './settings.ts';
import { bandNoisePower, bandSnrDb } from './signal-to-noise.ts';

/** A pulse train found. Times are seconds from the recording's start. */
export interface FoundTrain {
  readonly startS: number;
  readonly endS: number;
  /** Middle of each pulse. */
  readonly pulseTimesS: readonly number[];
  /** Median time from pulse to pulse. */
  readonly beatS: number;
  readonly carrierHz: number;
  /** Mean power of the median pulse while it sounds over the noise in 200 to 400 Hz, dB. */
  readonly snrDb: number;
  /** Probability that this is a waggle run, timed right, 0 to 1. */
  readonly confidence: number;
}

/** A call found. Times are seconds from the recording's start. */
export interface FoundCall {
  readonly kind: Call['kind'];
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number;
  readonly snrDb: number;
  readonly confidence: number;
}

export interface SegmentFindings {
  readonly trains: FoundTrain[];
  readonly calls: FoundCall[];
  /** Power of the noise floor in 200 to 400 Hz at the segment's middle, in the square of the samples' unit. */
  readonly noisePower: number;
}

const segmentRoom = keptSegmentRoom();

/** Everything found in a segment that is centred in its core, in order of start. Depends on nothing else. */
export function detectInSegment(segment: Segment, settings: DetectorSettings): SegmentFindings {
  const view = viewSegment(segment.samples, segment.sampleRateHz, settings, segmentRoom);
  const tones = findTones(view);
  const kept = judgeTrains(view, tones).filter(({ confidence }) => confidence >= settings.leastConfidence);
  const inCore = (found: { startS: number; endS: number }) => {
    const middleS = segment.startS + (found.startS + found.endS) / 2;
    return middleS >= segment.coreStartS && middleS < segment.coreEndS;
  };
  const trains = kept
    .filter(({ train }) => inCore(train))
    .map(({ train, confidence }) => foundTrain(train, confidence, view, segment.startS));
  const likeliest = likeliestTones(
    tones.filter((tone) => !kept.some(({ train }) => belongsToTrain(tone, train))),
  );
  const calls = nameCalls(likeliest)
    .map((call) => ({ call, confidence: callConfidence(call) }))
    .filter(({ call, confidence }) => confidence >= leastConfidenceOf(call, settings) && inCore(call))
    .map(({ call, confidence }) => foundCall(call, confidence, view, segment.startS));
  return {
    trains,
    calls,
    noisePower: bandNoisePower(view, segment.samples.length / segment.sampleRateHz / 2),
  };
}

/** A tone that is none of the known calls is listed where it is likelier: most of the doubtful ones are hum. */
const LEAST_OTHER_CONFIDENCE = 0.3;

const leastConfidenceOf = ({ kind }: Call, { leastCallConfidence }: DetectorSettings): number =>
  kind === 'other' ? Math.max(leastCallConfidence, LEAST_OTHER_CONFIDENCE) : leastCallConfidence;

/** The pulses of a fast train may run into one tone. */
function belongsToTrain(tone: Tone, train: TrainCandidate): boolean {
  const shared = Math.min(tone.endS, train.endS) - Math.max(tone.startS, train.startS);
  return shared > 0.5 * (tone.endS - tone.startS) && Math.abs(tone.carrierHz - train.carrierHz) < 45;
}

function foundTrain(
  train: TrainCandidate,
  confidence: number,
  view: SegmentView,
  offsetS: number,
): FoundTrain {
  return {
    startS: offsetS + train.startS,
    endS: offsetS + train.endS,
    pulseTimesS: train.pulseTimesS.map((timeS) => offsetS + timeS),
    beatS: train.beatS,
    carrierHz: train.carrierHz,
    snrDb: bandSnrDb(view, train.pulseRatio, train.carrierHz, (train.startS + train.endS) / 2),
    confidence,
  };
}

function foundCall(call: Call, confidence: number, view: SegmentView, offsetS: number): FoundCall {
  const loudest = call.tones.reduce((best, tone) => (tone.ratio > best.ratio ? tone : best));
  return {
    kind: call.kind,
    startS: offsetS + call.startS,
    endS: offsetS + call.endS,
    carrierHz: loudest.carrierHz,
    snrDb: bandSnrDb(
      { ...view, noisePowerAt: view.callNoisePowerAt },
      loudest.ratio,
      loudest.carrierHz,
      (call.startS + call.endS) / 2,
    ),
    confidence,
  };
}
