/**
 * The recipe of src/dance/judge-models.ts: simulates hives, finds candidates, labels them by the truth, fits
 * three logistic models (ridge penalties 1 and, on products, 10; Newton steps) and writes their coefficients.
 *
 *   npm run judge -- [--background DIR] [--seeds 12]
 *
 * Of the clips in DIR the even ones in order of name (first, third ...) are for tuning and used here; the odd
 * ones are kept for proving and never seen. Seeds 1000 on are for tuning, 5000 on for proving.
 */
import { readdirSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { Matrix, solve } from 'ml-matrix';
import { intersectionOverUnion } from '../../src/dance/agreement.ts';
import { findTones } from '../../src/dance/find-calls.ts';
import { findTrains, type TrainCandidate } from '../../src/dance/find-trains.ts';
import { COMPANY_FEATURES, companyFeatures, TONE_FEATURES, toneFeatures } from '../../src/dance/judge.ts';
import { type WeighedTrain, weighTrains } from '../../src/dance/judge-trains.ts';
import { type LogisticModel, termsOf } from '../../src/dance/logistic.ts';
import { type SegmentView, viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { TRAIN_FEATURES, trainFeatures } from '../../src/dance/train-features.ts';
import { decimator } from '../../src/signal/decimator.ts';
import { type PartialSimulationOptions, simulateSound, type TruthTables } from '../../src/simulate/index.ts';

interface Example {
  readonly features: number[];
  readonly real: boolean;
}

/** Length of each sound without dances, s. */
const QUIET_S = 180;
const SNRS_DB = [12, 10, 8, 6, 4.5, 3, 1.5, 0];

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: { background: { type: 'string' }, seeds: { type: 'string', default: '12' } },
  });
  const heard: Heard[] = [];
  // Queens seldom call, but their calls are to be known.
  const royal: Heard[] = [];
  for (let seed = 1000; seed < 1000 + Number(values.seeds); seed++) {
    for (const [k, snrDb] of SNRS_DB.entries()) {
      heard.push(
        await hear({
          seed: seed * 10 + k,
          lengthS: 120,
          snrDb,
          snrDanceSdDb: 1,
          dancesPerHour: 100,
          maxConcurrent: seed % 4 === 0 ? 2 : 1,
          calls: { scale: 2 },
          background: backgroundOf(values.background, seed),
        }),
      );
    }
    royal.push(
      await hear({
        seed: seed * 10 + 9 + 100000,
        lengthS: 120,
        snrDb: SNRS_DB[seed % SNRS_DB.length]!,
        snrDanceSdDb: 1,
        dancesPerHour: 60,
        calls: { scale: 2, pipingPerHour: 40, tootingPerHour: 40, quackingPerHour: 40 },
        background: backgroundOf(values.background, seed),
      }),
    );
    // Where nobody dances, all that looks like a train is hum: as many minutes without calls as with.
    for (const scale of [0, 2]) {
      heard.push(
        await hear({
          seed: seed * 10 + 8 + scale / 2,
          lengthS: QUIET_S,
          dancesPerHour: 0,
          calls: { scale },
          background: backgroundOf(values.background, seed % 2 === 1 ? 1 : seed),
        }),
      );
    }
    process.stderr.write(`seed ${seed} simulated\n`);
  }
  const first = heard.flatMap(({ view, truth }) =>
    labelled(
      findTrains(view),
      truth,
      (train) => train,
      (train) => trainFeatures(train, view),
    ),
  );
  // What guides bring out depends on the model; the model is to know it too.
  const trains = weighed(heard, fitLogistic(first, TRAIN_FEATURES.length), (one, view) =>
    trainFeatures(one.train, view),
  );
  const trainModel = fitLogistic(trains, TRAIN_FEATURES.length);
  const inCompany = weighed(heard, trainModel, (one) => companyFeatures(one));
  const tones = [...heard, ...royal].flatMap(toneExamples);
  process.stderr.write(`${trains.length} trains, ${inCompany.length} in company, ${tones.length} tones\n`);
  const text = [
    "import type { LogisticModel } from './logistic.ts';",
    '',
    '// Written by tests/bench/train-judge.ts; the weights stand in the order of the lists of features.',
    `export const trainModel: LogisticModel = ${JSON.stringify(trainModel)};`,
    '',
    `export const companyModel: LogisticModel = ${JSON.stringify(fitLogistic(inCompany, COMPANY_FEATURES.length))};`,
    '',
    `export const callModel: LogisticModel = ${JSON.stringify(fitLogistic(tones, TONE_FEATURES.length))};`,
    '',
  ].join('\n');
  await writeFile(new URL('../../../src/dance/judge-models.ts', import.meta.url), text);
}

/** Examples of all candidates of both rounds. */
function weighed(
  heard: readonly Heard[],
  model: LogisticModel,
  features: (one: WeighedTrain, view: SegmentView) => number[],
): Example[] {
  return heard.flatMap(({ view, truth }) =>
    labelled(
      weighTrains(view, findTones(view), model),
      truth,
      (one) => one.train,
      (one) => features(one, view),
    ),
  );
}

interface Heard {
  readonly view: SegmentView;
  readonly truth: TruthTables;
}

/** One seed in four over made noise, the others over real clips where there are any. */
function backgroundOf(folder: string | undefined, seed: number): PartialSimulationOptions['background'] {
  if (folder === undefined || seed % 4 === 1) return { kind: 'synthetic' };
  const clips = readdirSync(folder)
    .filter((name) => name.endsWith('.wav'))
    .sort()
    .filter((_, index) => index % 2 === 0);
  return { kind: 'files', files: clips.map((name) => join(folder, name)) };
}

async function hear(options: PartialSimulationOptions): Promise<Heard> {
  const sound = await simulateSound(options, 'r');
  const stage = decimator(sound.sampleRateHz);
  const parts = [stage.push(sound.channels[0]!), stage.finish()];
  const samples = new Float32Array(parts[0]!.length + parts[1]!.length);
  samples.set(parts[0]!);
  samples.set(parts[1]!, parts[0]!.length);
  return { view: viewSegment(samples, stage.analysisRateHz, DEFAULT_SETTINGS), truth: sound.truth };
}

/** A candidate is real when it shares at least half with a true train that no better candidate shares. */
function labelled<T>(
  candidates: readonly T[],
  truth: TruthTables,
  trainOf: (candidate: T) => TrainCandidate,
  features: (candidate: T) => number[],
): Example[] {
  const found = candidates.map((candidate) => {
    return { candidate, train: trainOf(candidate), ...stretchOf(trainOf(candidate)) };
  });
  return found.map((one) => ({
    features: features(one.candidate),
    real: truth.trains.some(
      (train) => intersectionOverUnion(train, one) >= 0.5 && !isLeftOf(one.train, train),
    ),
  }));
}

const stretchOf = ({ startS, endS }: { startS: number; endS: number }) => ({
  recording: 'r',
  start_s: startS,
  end_s: endS,
});

/** Whether a candidate is but what was left of a train when that was taken out. */
function isLeftOf(candidate: TrainCandidate, train: TruthTables['trains'][number]): boolean {
  const awayHz = Math.abs(candidate.carrierHz - (train.carrier_hz ?? candidate.carrierHz));
  return (candidate.apartFrom ?? []).some(
    (part) =>
      intersectionOverUnion(train, stretchOf(part)) >= 0.5 &&
      Math.abs(part.carrierHz - (train.carrier_hz ?? 0)) < awayHz,
  );
}

/** How far from a call's carrier a tone of it may be measured: toots rise by up to 36 Hz. */
const TONE_REACH_HZ = 40;

/** A tone is real when it is timed as a call is, or is one of the tones of a series, at its carrier. */
function toneExamples({ view, truth }: Heard): Example[] {
  const wanted = truth.calls.filter((call) => call.kind !== 'other');
  return findTones(view).map((tone) => {
    const lengthS = tone.endS - tone.startS;
    const stretch = { recording: 'r', start_s: tone.startS, end_s: tone.endS };
    const isOf = (call: (typeof wanted)[number]) =>
      Math.abs(tone.carrierHz - (call.carrier_hz ?? 0)) <= TONE_REACH_HZ &&
      (call.kind === 'tooting' || call.kind === 'quacking'
        ? Math.min(call.end_s, tone.endS) - Math.max(call.start_s, tone.startS) > 0.6 * lengthS
        : intersectionOverUnion(call, stretch) >= 0.5);
    return { features: toneFeatures(tone), real: wanted.some(isOf) };
  });
}

/** Ridge-penalised logistic regression by Newton's method on the terms of the model. */
function fitLogistic(examples: readonly Example[], width: number): LogisticModel {
  const count = examples.length;
  const column = (k: number) => examples.map((example) => example.features[k]!);
  const means = Array.from({ length: width }, (_, k) => column(k).reduce((s, v) => s + v, 0) / count);
  const deviations = means.map(
    (mean, k) => Math.sqrt(column(k).reduce((s, v) => s + (v - mean) ** 2, 0) / count) || 1,
  );
  const rows = examples.map(({ features }) =>
    Float64Array.from([1, ...termsOf(features, { means, deviations })]),
  );
  const size = rows[0]!.length;
  let weights = new Array<number>(size).fill(0);
  for (let round = 0; round < 30; round++) {
    const hessian = Array.from({ length: size }, () => new Float64Array(size));
    const gradient = new Float64Array(size);
    rows.forEach((row, i) => {
      const p = 1 / (1 + Math.exp(-row.reduce((s, v, k) => s + v * weights[k]!, 0)));
      const missing = (examples[i]!.real ? 1 : 0) - p;
      const curvature = p * (1 - p) + 1e-9;
      for (let a = 0; a < size; a++) {
        gradient[a]! += missing * row[a]!;
        const line = hessian[a]!;
        const factor = curvature * row[a]!;
        for (let b = 0; b <= a; b++) line[b]! += factor * row[b]!;
      }
    });
    for (let a = 0; a < size; a++) {
      for (let b = 0; b < a; b++) hessian[b]![a] = hessian[a]![b]!;
      if (a === 0) continue;
      const ridge = a <= width ? RIDGE : RIDGE_OF_PRODUCTS;
      hessian[a]![a]! += ridge;
      gradient[a]! -= ridge * weights[a]!;
    }
    const step = solve(new Matrix(hessian.map((line) => [...line])), Matrix.columnVector([...gradient]));
    weights = weights.map((w, k) => w + step.get(k, 0));
    if (Math.max(...step.to1DArray().map(Math.abs)) < 1e-8) break;
  }
  const short = (v: number) => Number(v.toPrecision(6));
  return {
    intercept: short(weights[0]!),
    weights: weights.slice(1).map(short),
    means: means.map(short),
    deviations: deviations.map(short),
  };
}

const RIDGE = 1;
/** Products are many, and each must show itself in many examples. */
const RIDGE_OF_PRODUCTS = 10;

await main();
