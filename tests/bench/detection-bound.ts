/**
 * What the physics allows: how many runs a detector could find, and how well time them, that knows everything but
 * what it looks for; over white noise of a known level, with simulated runs. Written with what was measured
 * (docs/accuracy.csv) as a figure.
 *
 *   npm run bound -- [--out DIR]
 *
 * A pulse of power P for T seconds over noise of power N in a band of B Hz stands s = (P / N) · B · T over the
 * noise at a filter matched to it, in power; the power there is exponential with mean 1 without it and a
 * non-central chi-square with two degrees of freedom with it (Rice 1945, Bell Syst Tech J 24:46). Over the n places
 * of a run the sum of powers is gamma distributed with shape n without pulses. A run counts as found where its sum
 * exceeds what noise reaches once in an hour over all choices of start, carrier and beat ("unguided"), or once in
 * a hundred looks at where a dancer's next run may begin ("guided": carrier and beat known from her other runs).
 * Timing: pulses are given at known places, and the first and last are those with the greatest likelihood.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { parse } from 'csv-parse/sync';
import { type Random, seededRandom } from '../../src/random.ts';
import { besselI0 } from '../../src/signal/lowpass.ts';
import { meanOf, medianOf } from '../../src/signal/quantile.ts';
import { completeOptions } from '../../src/simulate/options.ts';
import { planHive } from '../../src/simulate/plan.ts';
import { markOf } from '../../src/study/figures/marks.ts';
import { type Figure, paperLayout } from '../../src/study/figures/style.ts';
import { writeFigures } from '../../src/study/figures/write-figures.ts';
import { textTable } from '../../src/study/text-table.ts';

/** A simulated run: how many pulses, how long one lasts, and the time from each to the next. */
interface Run {
  readonly pulseCount: number;
  readonly pulseS: number;
  readonly beatS: number;
}

const BAND_HZ = 200;
/** Starts 10 ms apart in an hour, 6 carriers 40 Hz apart, 10 beats 11 % apart from 12 to 35 in a second. */
const UNGUIDED_CHOICES = 360_000 * 6 * 10;
/** Starts 10 ms apart in the 4 s after a run, one carrier and beat; once in a hundred looks. */
const GUIDED_CHOICES = 400 * 100;
/** Over made noise 0 dB comes to −2 dB at the dancers' carriers. */
const SNRS_DB = [10, 6, 3, 0, -1, -2];
const DRAWS = 4000;

function simulatedRuns(): Run[] {
  const plan = planHive(completeOptions({ lengthS: 36_000, dancesPerHour: 100 }), seededRandom(31));
  return plan.dances.flatMap(({ trains }) =>
    trains.map(({ pulses }) => ({
      pulseCount: pulses.length,
      pulseS: pulses.reduce((sum, pulse) => sum + pulse.offsetS - pulse.onsetS, 0) / pulses.length,
      beatS: (pulses.at(-1)!.onsetS - pulses[0]!.onsetS) / (pulses.length - 1),
    })),
  );
}

/** Power at a matched filter, mean 1 in noise, with a pulse s times over it. */
function powerOf(s: number, random: Random): number {
  const re = Math.sqrt(s) + random.normal() / Math.SQRT2;
  const im = random.normal() / Math.SQRT2;
  return re * re + im * im;
}

/** The sum of n noise powers that is exceeded with the given probability: Erlang's survival function, bisected. */
function noiseSumExceeded(n: number, probability: number): number {
  const survival = (x: number) => {
    let term = Math.exp(-x);
    let sum = term;
    for (let k = 1; k < n; k++) {
      term *= x / k;
      sum += term;
    }
    return sum;
  };
  let low = 0;
  let high = n + 10 * Math.sqrt(n) + 100;
  for (let k = 0; k < 60; k++) {
    const middle = (low + high) / 2;
    if (survival(middle) > probability) low = middle;
    else high = middle;
  }
  return low;
}

interface Bound {
  readonly snrDb: number;
  readonly unguidedShare: number;
  readonly guidedShare: number;
  /** Share of runs whose first and last pulse are both taken for what they are. */
  readonly endsRightShare: number;
  /** Median and mean of the duration's absolute error for pulses taken for none, or none for pulses, at the ends, ms. */
  readonly medianErrorMs: number;
  readonly meanErrorMs: number;
}

function boundAt(snrDb: number, runs: readonly Run[], random: Random): Bound {
  const thresholds = new Map<number, { unguided: number; guided: number }>();
  let unguided = 0;
  let guided = 0;
  let endsRight = 0;
  const errorsMs: number[] = [];
  for (let draw = 0; draw < DRAWS; draw++) {
    const { pulseCount, pulseS, beatS } = runs[random.below(runs.length)]!;
    const s = 10 ** (snrDb / 10) * BAND_HZ * pulseS;
    let sum = 0;
    for (let k = 0; k < pulseCount; k++) sum += powerOf(s, random);
    const known = thresholds.get(pulseCount) ?? {
      unguided: noiseSumExceeded(pulseCount, 1 / UNGUIDED_CHOICES),
      guided: noiseSumExceeded(pulseCount, 1 / GUIDED_CHOICES),
    };
    thresholds.set(pulseCount, known);
    if (sum > known.unguided) unguided++;
    if (sum > known.guided) guided++;
    const [first, last] = [placesWrong(s, random), placesWrong(s, random)];
    if (first === 0 && last === 0) endsRight++;
    errorsMs.push(1000 * beatS * Math.abs(first + last));
  }
  return {
    snrDb,
    unguidedShare: unguided / DRAWS,
    guidedShare: guided / DRAWS,
    endsRightShare: endsRight / DRAWS,
    medianErrorMs: medianOf(errorsMs),
    meanErrorMs: meanOf(errorsMs),
  };
}

const REACH_PLACES = 12;

/** By how many places one end of a run is misplaced: pulses up to place 0, noise beyond, the likeliest end taken. */
function placesWrong(s: number, random: Random): number {
  const odds = (z: number) => Math.log(besselI0(Math.min(600, 2 * Math.sqrt(s * z)))) - s;
  let sum = 0;
  let best = 0;
  let at = 0;
  for (let place = 1; place <= REACH_PLACES; place++) {
    sum += odds(powerOf(0, random));
    if (sum > best) {
      best = sum;
      at = place;
    }
  }
  sum = 0;
  for (let place = 0; place > -REACH_PLACES; place--) {
    sum -= odds(powerOf(s, random));
    if (sum > best) {
      best = sum;
      at = place - 1;
    }
  }
  return at;
}

/** Rows of docs/accuracy.csv: what the detector reached. */
interface Measured {
  readonly background: string;
  readonly half: string;
  readonly snr_db: string;
  readonly f1: string;
}

function figuresOf(bounds: readonly Bound[], measured: readonly Measured[]): Figure[] {
  const f1 = (share: number) => (2 * share) / (1 + share);
  const lines = (values: readonly (readonly [string, (bound: Bound) => number])[]) =>
    values.map(([name, pick], k) => ({
      type: 'scatter' as const,
      mode: 'lines',
      name,
      x: bounds.map((bound) => bound.snrDb),
      y: bounds.map(pick),
      line: { color: '#000000', dash: k === 0 ? 'solid' : 'dot', width: 1.5 },
    }));
  const kinds = [...new Set(measured.map(({ background, half }) => `${background}, ${half}`))];
  const points = kinds.map((kind, k) => {
    const rows = measured.filter(({ background, half }) => `${background}, ${half}` === kind);
    return {
      type: 'scatter' as const,
      mode: 'markers',
      name: kind,
      x: rows.map((row) => Number(row.snr_db)),
      y: rows.map((row) => Number(row.f1)),
      marker: { ...markOf(k), size: 7 },
    };
  });
  const legend = { showlegend: true, legend: { x: 0.98, xanchor: 'right', y: 0.02, yanchor: 'bottom' } };
  return [
    {
      name: 'runs-found-against-bound',
      data: [
        ...lines([
          ['bound, guided', (bound) => f1(bound.guidedShare)],
          ['bound, unguided', (bound) => f1(bound.unguidedShare)],
        ]),
        ...points,
      ],
      layout: paperLayout('SNR in 200 to 400 Hz (dB)', 'F1 of trains', legend),
    },
  ];
}

/** For those who have the figure read to them. */
function addTitle(file: string): void {
  const svg = readFileSync(file, 'utf8');
  writeFileSync(file, svg.replace(/<svg[^>]*>/, '$&<title>F1 of runs over SNR against the bound</title>'));
}

const { values } = parseArgs({ options: { out: { type: 'string' } } });
const runs = simulatedRuns();
const random = seededRandom(7);
const bounds = SNRS_DB.map((snrDb) => boundAt(snrDb, runs, random));
process.stdout.write(
  textTable([
    [
      'SNR (dB)',
      'found, unguided',
      'found, guided',
      'both ends right',
      'duration error, median ms',
      'mean ms',
    ],
    ...bounds.map((bound) => [
      String(bound.snrDb),
      bound.unguidedShare.toFixed(3),
      bound.guidedShare.toFixed(3),
      bound.endsRightShare.toFixed(3),
      bound.medianErrorMs.toFixed(0),
      bound.meanErrorMs.toFixed(0),
    ]),
  ]),
);
if (values.out !== undefined) {
  const source = new URL('../../../docs/accuracy.csv', import.meta.url);
  const measured = parse(readFileSync(source), { columns: true }) as Measured[];
  const { files, withoutSvg } = await writeFigures(values.out, 'Accuracy', figuresOf(bounds, measured));
  for (const file of files) {
    if (file.endsWith('.svg')) addTitle(file);
    process.stdout.write(`Written: ${file}\n`);
  }
  if (withoutSvg !== null) process.stdout.write(`No SVG: ${withoutSvg}.\n`);
}
