import { describe, expect, test } from 'vitest';
import { choiceCost } from '../../src/dance/choice-cost.ts';
import {
  beatCosts,
  emptyRows,
  evidenceAt,
  type Places,
  placesOf,
  searchRows,
} from '../../src/dance/guided-rows.ts';
import { gapShareCost, pulseLogRatio } from '../../src/dance/likelihood.ts';
import { type CarrierRatios, pulseCandidates } from '../../src/dance/pulse-candidates.ts';
import { pulseChains } from '../../src/dance/pulse-chains.ts';

const BEAT = 25;
const STEP_S = 0.002;

/** Places 2 ms apart, as quiet as noise but for pulses of twelve times its power at some, and what else is said. */
function placesWith(
  count: number,
  pulses: readonly number[],
  more: (power: Float64Array) => void = () => {},
): Places {
  const power = new Float64Array(count).fill(0.7);
  for (const at of pulses) power[at] = 12;
  more(power);
  const heard = { power, covered: new Uint8Array(count), left: null, tuningAt: () => 0 };
  return placesOf(heard, 12, BEAT, STEP_S);
}

function searched(places: Places) {
  const rows = emptyRows(places.power.length);
  searchRows(rows, places, beatCosts(BEAT), new Uint8Array(places.power.length), 0);
  return rows;
}

describe('rows of a known dancer', () => {
  test('a link is worth the evidence of its pulse, less its beat’s cost and half of what the gap sounds like', () => {
    // A gap of half the pulses’ power, that costs all it would have earned.
    const places = placesWith(100, [40, 65], (power) => power.fill(6, 52, 54));
    const { value, previous } = searched(places);
    const alone = evidenceAt(places, 40) - 1.5;
    expect(previous[65]).toBe(40);
    expect(value[40]).toBeCloseTo(alone, 9);
    const gap = gapShareCost(6, 12);
    expect(gap).toBeGreaterThan(1);
    expect(value[65]).toBeCloseTo(alone + evidenceAt(places, 65) - 0.5 * gap, 9);
  });

  test('a place without a pulse costs no more than that one pulse in twelve is dropped, 8 %', () => {
    const silent = placesOf(
      {
        power: new Float64Array(100).fill(0.01),
        covered: new Uint8Array(100),
        left: null,
        tuningAt: () => 0,
      },
      60,
      BEAT,
      STEP_S,
    );
    expect(evidenceAt(silent, 50)).toBeCloseTo(Math.log(0.08), 3);
    silent.covered.fill(1);
    silent.evidence.fill(Number.NaN);
    expect(evidenceAt(silent, 50)).toBe(-0.1);
  });

  test('a pulse costs what the choice of places about its beat does, an empty or covered place does not', () => {
    const places = placesWith(100, [40]);
    expect(places.choice).toBeCloseTo(choiceCost(0.11 * 0.05, 12), 12);
    const free = { ...places, choice: 0, evidence: new Float64Array(100).fill(Number.NaN) };
    const odds = (at: number, of: Places) => (Math.exp(evidenceAt(of, at)) - 0.08) / 0.92;
    expect(Math.log(odds(40, free) / odds(40, places))).toBeCloseTo(places.choice, 6);
  });

  test('a link off the beat costs by the square of its logarithm, and none is longer than a quarter more', () => {
    const { cost, shortest, longest } = beatCosts(BEAT);
    expect([shortest, longest]).toEqual([19, 31]);
    expect(cost[BEAT]).toBe(0);
    expect(cost[20]).toBeCloseTo(0.5 * (Math.log(20 / 25) / 0.11) ** 2, 9);
  });

  test('one pulse not sung is bridged, and a silence of two that costs more than four in all is not', () => {
    const before = [30, 55, 80, 105];
    // An empty place costs at most ln 0.08: 2.5.
    const one = searched(placesWith(300, [...before, 155, 180]));
    expect(rowTo(one.previous, 180)).toEqual([...before, 130, 155, 180]);
    const two = searched(placesWith(300, [...before, 180, 205]));
    expect(rowTo(two.previous, 205)[0]).toBe(180);
  });
});

function rowTo(previous: Int32Array, end: number): number[] {
  const row: number[] = [];
  for (let k = end; k >= 0; k = previous[k]!) row.unshift(k);
  return row;
}

/** Powers over the floor at three carriers, 4 ms apart: peaks of a height in the middle one, else `around`. */
function ratiosWith(
  frameCount: number,
  peaks: readonly number[],
  height: number,
  around = 0.3,
): CarrierRatios {
  const ratio = new Float32Array(3 * frameCount).fill(0.1);
  for (let frame = 0; frame < frameCount; frame++) ratio[3 * frame + 1] = around;
  for (const frame of peaks) ratio[3 * frame + 1] = height;
  return { ratio, frameCount, carrierCount: 3, firstCarrierHz: 240, carrierStepHz: 20, hopS: 0.004 };
}

describe('candidates and chains by hand', () => {
  test('a peak is weighed against half the mean over a fifth of a second either way, where that is above the floor', () => {
    const loud = pulseCandidates(ratiosWith(201, [100], 16, 4));
    expect([loud.count, loud.frame[0], loud.carrier[0]]).toEqual([1, 100, 1]);
    // 101 frames: a hundred of 4 and the peak.
    expect(loud.logRatio[0]).toBeCloseTo(pulseLogRatio(16 / (0.5 * (416 / 101))), 5);
    const quiet = pulseCandidates(ratiosWith(201, [100], 3, 0.3));
    expect(quiet.logRatio[0]).toBeCloseTo(pulseLogRatio(3), 5);
  });

  test('a peak’s frequency is as uncertain as a dancer’s pulses are, and the more the fainter it is', () => {
    const perHz = (height: number) => pulseCandidates(ratiosWith(201, [100], height)).perHz[0];
    // Variances of 64 Hz² and of 1000 Hz² over the power.
    expect(perHz(4)).toBeCloseTo(1 / Math.sqrt(64 + 250), 6);
    expect(perHz(1000)).toBeCloseTo(1 / Math.sqrt(65), 6);
  });

  test('a pulse lost costs a chain 1.8', () => {
    const score = (peaks: readonly number[]) => {
      const ratios = ratiosWith(400, peaks, 40);
      return pulseChains(ratios, pulseCandidates(ratios))[0]!.score;
    };
    expect(score([100, 112, 124, 136, 148]) - score([100, 112, 124, 148, 160])).toBeCloseTo(1.8, 4);
  });

  const chainsOf = (peaks: readonly number[]) => {
    const ratios = ratiosWith(400, peaks, 40);
    const candidates = pulseCandidates(ratios);
    return pulseChains(ratios, candidates).map((chain) =>
      chain.candidates.map((node) => candidates.frame[node]),
    );
  };

  test('four pulses at a beat are a chain, three are none', () => {
    expect(chainsOf([100, 112, 124, 136])).toEqual([[100, 112, 124, 136]]);
    expect(chainsOf([100, 112, 124])).toEqual([]);
  });

  test('a chain goes on over one pulse that is lost, at the same beat', () => {
    const peaks = [100, 112, 124, 148, 160];
    expect(chainsOf(peaks)).toEqual([peaks]);
    expect(chainsOf([100, 112, 124, 184, 196])).toEqual([]);
  });

  test('two rows of pulses far apart are two chains', () => {
    const [first, second] = [
      [50, 62, 74, 86],
      [250, 262, 274, 286],
    ] as const;
    expect(chainsOf([...first, ...second]).sort((a, b) => a[0]! - b[0]!)).toEqual([first, second]);
  });
});
