import { byValue } from '../signal/by-value.ts';
import { carrierSound, keptSoundRoom, powersInWindow, windowOf } from './carrier-envelope.ts';
import {
  beatCosts,
  emptyRows,
  evidenceAt,
  FREE,
  type Places,
  placesOf,
  searchRows,
  TAKEN,
} from './guided-rows.ts';
import { LEAST_LEFT } from './hidden.ts';
import { MATCHED_WINDOW_S, oddLength } from './matched-view.ts';
import type { SegmentView } from './segment-view.ts';
import { LEAST_TUNED_RATIO, TUNING_HZ, tunedWindowOf, tuningAt } from './tuning.ts';

/** What is known of a dancer from her clearer runs, and between which times her others may be. */
export interface Guide {
  readonly carrierHz: number;
  readonly beatS: number;
  /** Power of her pulses over the noise floor in the matched window. */
  readonly strength: number;
  readonly fromS: number;
  readonly toS: number;
}

/** A row of pulses that fits a guide. */
export interface GuidedRun {
  readonly pulseTimesS: readonly number[];
  /** ln likelihood ratio of the row against noise, less the costs of its links. */
  readonly score: number;
}

const STEP_S = 0.002;
const LEAST_SCORE = 2;
const LEAST_PULSES = 3;
/** A place with less evidence than this is left out of the row's pulses. */
const LEAST_EVIDENCE = -1;
/** The same dancer's next run is at least this far from a row taken. */
const APART_S = 0.15;
const PASSES = 3;

const soundRoom = keptSoundRoom();

/**
 * Rows of pulses that fit a dancer's carrier, beat and strength: a Viterbi search over times 2 ms apart. With
 * strength and beat known every moment has its likelihood ratio, so that a pulse too weak to be a peak still
 * counts for what it is, and a missing one has its price. Of rows that overlap the best is taken.
 */
export function guidedRuns(view: SegmentView, guide: Guide): GuidedRun[] {
  const { samples, sampleRateHz } = view;
  const step = Math.max(1, Math.round(STEP_S * sampleRateHz));
  const from = Math.max(0, Math.round(guide.fromS * sampleRateHz));
  const to = Math.min(samples.length, Math.round(guide.toS * sampleRateHz));
  const count = Math.floor((to - from) / step);
  if (count < 2) return [];
  const stepS = step / sampleRateHz;
  const heard = hearAt(view, guide, { from, count, step });
  const places = placesOf(heard, guide.strength, guide.beatS / stepS, stepS);
  const blocked = new Uint8Array(count);
  const apart = Math.round(APART_S / stepS);
  const runs: GuidedRun[] = [];
  const rows = emptyRows(count);
  const { value, previous } = rows;
  const costs = beatCosts(guide.beatS / stepS);
  for (let pass = 0; pass < PASSES; pass++) {
    searchRows(rows, places, costs, blocked, pass === 0 ? 0 : blocked.indexOf(TAKEN));
    let taken = false;
    for (const end of endsFromBest(value)) {
      if (blocked[end] !== FREE) continue;
      const row = rowTo(end, previous);
      if (row.some((k) => blocked[k] !== FREE)) continue;
      blocked.fill(TAKEN, Math.max(0, row[0]! - apart), row.at(-1)! + apart + 1);
      taken = true;
      const pulses = row.filter((k) => evidenceAt(places, k) > LEAST_EVIDENCE && heard.covered[k] === 0);
      if (pulses.length < LEAST_PULSES) continue;
      runs.push({ pulseTimesS: pulses.map((k) => (from + k * step) / sampleRateHz), score: value[end]! });
    }
    if (!taken) break;
  }
  return runs;
}

/** What is heard at the dancer's carrier in the matched window at `count` places `step` samples apart. */
function hearAt(
  view: SegmentView,
  guide: Guide,
  { from, count, step }: { from: number; count: number; step: number },
): Pick<Places, 'power' | 'tuningAt' | 'covered' | 'left'> {
  const { samples, sampleRateHz } = view;
  const { carrierHz } = guide;
  const length = oddLength(MATCHED_WINDOW_S, sampleRateHz);
  const sound = carrierSound(samples, sampleRateHz, carrierHz, from, count * step, length, soundRoom);
  const power = new Float64Array(count);
  powersInWindow(sound, step, windowOf(length), power, 0, count);
  const noiseAt = (place: number, hz: number) =>
    view.noisePowerAt((from + place * step) / sampleRateHz, hz) + 1e-30;
  let noise = 1;
  for (let k = 0; k < count; k++) {
    // The floor is known every 0.5 s.
    if (k % 50 === 0) noise = noiseAt(k, carrierHz);
    power[k]! /= noise;
  }
  const covered = new Uint8Array(count);
  const left = leftOf(view, carrierHz, count, (place) => (from + place * step) / sampleRateHz);
  const placeAt = (timeS: number) => Math.max(0, Math.round((timeS * sampleRateHz - from) / step));
  for (const [fromS, toS] of view.covered) {
    covered.fill(1, placeAt(fromS), placeAt(toS));
    power.fill(1, placeAt(fromS), placeAt(toS));
  }
  for (let k = 0; left !== null && k < count; k++) {
    if (left[k]! < LEAST_LEFT) {
      covered[k] = 1;
      power[k] = 1;
    } else if (covered[k] === 0) {
      power[k]! /= left[k]!;
    }
  }
  const tuned = tunedWindowOf(length, sampleRateHz);
  const tuning = (place: number) =>
    power[place]! < LEAST_TUNED_RATIO
      ? 0
      : tuningAt(sound, place * step, tuned, power[place]!, {
          above: noiseAt(place, carrierHz + TUNING_HZ),
          below: noiseAt(place, carrierHz - TUNING_HZ),
        });
  return { power, covered, left, tuningAt: tuning };
}

/** What of a pulse's power is left at each place; null where nothing was taken out. */
function leftOf(
  { hiddenAt }: SegmentView,
  carrierHz: number,
  count: number,
  timeOf: (place: number) => number,
): Float64Array | null {
  if (hiddenAt === null) return null;
  const left = new Float64Array(count);
  for (let place = 0; place < count; place++) left[place] = 1 - hiddenAt(timeOf(place), carrierHz);
  return left;
}

/** Places at which a row worth it may end, from the best down. */
function endsFromBest(value: Float64Array): number[] {
  return placesWorth(value, LEAST_SCORE).sort((a, b) => byValue(value, a, b));
}

function placesWorth(value: Float64Array, least: number): number[] {
  const places: number[] = [];
  for (let k = 0; k < value.length; k++) if (value[k]! >= least) places.push(k);
  return places;
}

function rowTo(end: number, previous: Int32Array): number[] {
  const places: number[] = [];
  for (let k = end; k >= 0; k = previous[k]!) places.push(k);
  return places.reverse();
}
