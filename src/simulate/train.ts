import type { Random } from '../random.ts';
import { normalWithin } from './draws.ts';
import { audibleBounds, envelopeLengthS, envelopeOfAudibleLength } from './envelope.ts';
import type { Bee } from './options.ts';
import { type Sound, toPower } from './sound.ts';

/** One pulse of a train: where its amplitude first and last exceeds 10 % of its peak. */
export interface PlannedPulse {
  readonly onsetS: number;
  readonly offsetS: number;
}

/** The sound of one waggle run, as it will be rendered. */
export interface PlannedTrain {
  readonly trainId: string;
  readonly danceId: string;
  /** Onset of the first pulse and offset of the last, s. */
  readonly startS: number;
  readonly endS: number;
  readonly pulses: readonly PlannedPulse[];
  /** Mean rate of the pulses' places, those left empty included. */
  readonly pulseRateHz: number;
  readonly carrierHz: number;
  readonly snrDb: number;
  /** How long the run was meant to last before pulses were placed, s. */
  readonly targetS: number;
}

export interface TrainRequest {
  readonly bee: Bee;
  readonly startS: number;
  readonly targetS: number;
  readonly shortestS: number;
  readonly carrierHz: number;
  readonly pulseSdDb: number;
  readonly group: number;
}

interface Place {
  readonly onsetS: number;
  readonly lengthS: number;
}

/**
 * Places and shapes the pulses of one run. Pulses follow each other until the next would bring the train further
 * from the wanted duration than the last did, so that trains are as long as wanted on average; the train's
 * duration is that of the pulses placed.
 *
 * @returns the pulses and their sounds, the sounds scaled to a mean sounding power of 1
 */
export function planTrain(
  request: TrainRequest,
  random: Random,
): { pulses: PlannedPulse[]; sounds: Sound[]; pulseRateHz: number; carrierHz: number } {
  const { bee } = request;
  const places = placePulses(request, random);
  const spanS = places[places.length - 1]!.onsetS - request.startS;
  const driftHz = normalWithin(random, 0, 2, -5, 5);
  const trendDb = bee.levelTrendSdDb * random.normal();
  const phase = random.between(0, 2 * Math.PI);
  const pulses: PlannedPulse[] = [];
  const sounds: Sound[] = [];
  const powers: number[] = [];
  let carrierSum = 0;
  places.forEach((place, index) => {
    const inner = index > 0 && index < places.length - 1;
    // Drawn whether used or not, so that leaving a pulse out shifts no other draw.
    const dropped = random.uniform() < bee.dropoutShare && inner;
    const jitterDb = request.pulseSdDb * random.normal();
    const ownPhase = random.between(0, 2 * Math.PI);
    if (dropped) return;
    const sinceS = place.onsetS - request.startS;
    const share = spanS > 0 ? sinceS / spanS : 0.5;
    const carrierHz = request.carrierHz + driftHz * (share - 0.5);
    const levelDb = jitterDb + trendDb * (share - 0.5) - (index % 2) * bee.alternationDb;
    const runningPhase = phase + 2 * Math.PI * carrierIntegral(request.carrierHz, driftHz, spanS, sinceS);
    const sound = pulseSound(
      bee,
      place,
      carrierHz,
      bee.continuousPhase ? runningPhase : ownPhase,
      request.group,
    );
    sounds.push(sound);
    powers.push(10 ** (levelDb / 10));
    pulses.push({ onsetS: place.onsetS, offsetS: place.onsetS + place.lengthS });
    carrierSum += carrierHz;
  });
  const meanPower = powers.reduce((sum, power) => sum + power, 0) / powers.length;
  return {
    pulses,
    sounds: sounds.map((sound, index) => toPower(sound, powers[index]! / meanPower)),
    pulseRateHz: places.length > 1 ? (places.length - 1) / spanS : bee.pulseRateHz,
    carrierHz: carrierSum / pulses.length,
  };
}

function placePulses(request: TrainRequest, random: Random): Place[] {
  const { bee, targetS, shortestS } = request;
  const rateHz = bee.pulseRateHz * (1 + 0.03 * random.normal());
  const rateDrift = 0.04 * random.normal();
  const longestPulseS = 0.7 / rateHz;
  const places: Place[] = [];
  let sinceS = 0;
  for (;;) {
    const lengthS = Math.min(bee.pulseLengthS * (1 + 0.04 * random.normal()), longestPulseS);
    const stepS = 1 / (rateHz * (1 + rateDrift * (Math.min(sinceS / targetS, 1) - 0.5)));
    const endS = sinceS + lengthS;
    const before = places[places.length - 1];
    if (before !== undefined) {
      const lastEndS = before.onsetS - request.startS + before.lengthS;
      if (lastEndS >= shortestS && endS - targetS > targetS - lastEndS) return places;
    }
    places.push({ onsetS: request.startS + sinceS, lengthS });
    const jitter = normalWithin(random, 0, bee.periodJitter, -2.5 * bee.periodJitter, 2.5 * bee.periodJitter);
    sinceS += Math.max(stepS * (1 + jitter), lengthS / 0.7);
  }
}

function pulseSound(bee: Bee, place: Place, carrierHz: number, phase: number, group: number): Sound {
  const fall = bee.pulseShape === 'decaying' ? 'exponential' : 'cosine';
  const envelope = envelopeOfAudibleLength(place.lengthS, bee.riseShare, bee.fallShare, fall);
  const { onsetS } = audibleBounds(envelope);
  const glideHzPerS = Math.abs(bee.glideHzPerS) * envelopeLengthS(envelope) > 12 ? 0 : bee.glideHzPerS;
  const beginHz = carrierHz - (glideHzPerS * place.lengthS) / 2;
  return {
    startS: place.onsetS - onsetS,
    envelope,
    partials: [
      { frequencyHz: beginHz, glideHzPerS, amplitude: 1, phase },
      {
        frequencyHz: 2 * beginHz,
        glideHzPerS: 2 * glideHzPerS,
        amplitude: 10 ** (bee.secondHarmonicDb / 20),
        phase: 2 * phase + bee.secondHarmonicPhase,
      },
    ],
    gain: 1,
    group,
  };
}

/** Cycles of a carrier that drifts evenly over the run, from its start on. */
function carrierIntegral(carrierHz: number, driftHz: number, spanS: number, sinceS: number): number {
  return (carrierHz - driftHz / 2) * sinceS + (spanS > 0 ? (driftHz * sinceS * sinceS) / (2 * spanS) : 0);
}
