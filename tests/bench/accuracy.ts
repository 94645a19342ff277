/**
 * How well runs and calls are found, on simulated dances over real in-hive clips and over made noise.
 *
 *   npm run accuracy -- [--background DIR] [--seeds 6] [--only trains,false,calls,...]
 *
 * Clips and seeds are split in a tuning and a proving half (accuracy-cases.ts); both are reported side by side.
 * Intervals are 95 %, from the spread between seeds (Student's t).
 */
import { parseArgs } from 'node:util';
import t from '@stdlib/stats-base-dists-t';
import { medianOf } from '../../src/signal/quantile.ts';
import type { PartialSimulationOptions } from '../../src/simulate/index.ts';
import { compareCalls, compareTrains } from '../../src/study/agreement.ts';
import { textTable } from '../../src/study/text-table.ts';
import { clipsOf, type Half, seedOf, type Trial, trial } from './accuracy-cases.ts';
import { groupingF1, reliability } from './accuracy-measures.ts';
import { type Overlaid, overlaid, PLACES } from './overlaid-calls.ts';

const { values } = parseArgs({
  options: {
    background: { type: 'string' },
    seeds: { type: 'string', default: '6' },
    only: { type: 'string', default: 'trains,far,false,calls,overlaid,dancers,confidence,disturbances' },
  },
});
const seedCount = Number(values.seeds);
const halves: readonly Half[] = ['tuning', 'proving'];
const backgrounds = values.background === undefined ? ['made'] : ['real', 'made'];

/** Options over a background: eight minutes, a hundred dances an hour. */
function over(background: string, half: Half, index: number, more: PartialSimulationOptions) {
  return {
    seed: seedOf(half, index),
    lengthS: 480,
    dancesPerHour: 100,
    background:
      background === 'real'
        ? { kind: 'files' as const, files: clipsOf(values.background!, half) }
        : { kind: 'synthetic' as const },
    ...more,
  };
}

async function trials(
  background: string,
  half: Half,
  more: PartialSimulationOptions,
  count = seedCount,
): Promise<Trial[]> {
  const all: Trial[] = [];
  for (let index = 0; index < count; index++) all.push(await trial(over(background, half, index, more)));
  return all;
}

/** Mean of one figure per seed, with half the width of its 95 % interval. */
function withInterval(figures: readonly number[], decimals = 3): string {
  const known = figures.filter((figure) => !Number.isNaN(figure));
  const mean = known.reduce((sum, figure) => sum + figure, 0) / known.length;
  if (known.length < 2) return mean.toFixed(decimals);
  const variance = known.reduce((sum, figure) => sum + (figure - mean) ** 2, 0) / (known.length - 1);
  const half = t.quantile(0.975, known.length - 1) * Math.sqrt(variance / known.length);
  return `${mean.toFixed(decimals)} ± ${half.toFixed(decimals)}`;
}

type Compared = ReturnType<typeof compareTrains>;

/** One figure of each seed's runs, with its interval. */
const figureOf = (
  compared: readonly Compared[],
  pick: (one: Compared) => number | null,
  decimals = 3,
): string =>
  withInterval(
    compared.map((one) => pick(one) ?? Number.NaN),
    decimals,
  );

/** F1, duration error and bias, the last two in ms. */
const timingCells = (compared: readonly Compared[]): string[] => [
  figureOf(compared, ({ f1 }) => f1),
  figureOf(compared, ({ duration }) => duration.medianAbsoluteMs, 1),
  figureOf(compared, ({ duration }) => duration.medianMs, 1),
];

const runCount = (compared: readonly Compared[]): string =>
  String(compared.reduce((sum, { reference }) => sum + reference, 0));

async function comparedRuns(
  background: string,
  half: Half,
  more: PartialSimulationOptions,
): Promise<Compared[]> {
  const all = await trials(background, half, more);
  return all.map(({ truth, found }) => compareTrains(truth.trains, found.trains));
}

async function trainsBySnr(): Promise<string> {
  const rows = [
    ['background', 'half', 'SNR dB', 'runs', 'precision', 'recall', 'F1', '|duration error| ms', 'bias ms'],
  ];
  for (const background of backgrounds) {
    for (const snrDb of [10, 6, 3, 0]) {
      for (const half of halves) {
        const compared = await comparedRuns(background, half, { snrDb });
        const found = [({ precision }: Compared) => precision, ({ recall }: Compared) => recall];
        rows.push([
          ...[background, half, String(snrDb), runCount(compared)],
          ...found.map((pick) => figureOf(compared, pick)),
          ...timingCells(compared),
        ]);
      }
    }
  }
  return `Waggle runs\n${textTable(rows)}`;
}

/** Sources so far away that a run lasts 3 to 6 s. */
const FAR_FEEDERS = [3000, 4000, 5000, 5500].map((distanceM) => ({
  feederId: `far-${distanceM}m`,
  distanceM,
}));

async function farTrains(): Promise<string> {
  const rows = [['background', 'half', 'SNR dB', 'runs', 'F1', '|duration error| ms', 'bias ms']];
  for (const background of backgrounds) {
    for (const snrDb of [10, 6]) {
      for (const half of halves) {
        const compared = await comparedRuns(background, half, { snrDb, feeders: FAR_FEEDERS });
        rows.push([background, half, String(snrDb), runCount(compared), ...timingCells(compared)]);
      }
    }
  }
  return `Waggle runs of 3 to 6 s\n${textTable(rows)}`;
}

async function falseTrains(): Promise<string> {
  const rows = [['background', 'half', 'hours', 'false runs', 'an hour', 'with other sounds, an hour']];
  for (const background of backgrounds) {
    for (const half of halves) {
      const quiet = await trials(
        background,
        half,
        { lengthS: 1800, dancesPerHour: 0, calls: { scale: 0 } },
        2,
      );
      const busy = await trials(
        background,
        half,
        { lengthS: 1800, dancesPerHour: 0, calls: { scale: 2 } },
        2,
      );
      const count = (all: readonly Trial[]) => all.reduce((sum, one) => sum + one.found.trains.length, 0);
      const hours = quiet.reduce((sum, one) => sum + one.lengthS, 0) / 3600;
      rows.push([
        background,
        half,
        hours.toFixed(1),
        String(count(quiet)),
        (count(quiet) / hours).toFixed(1),
        (count(busy) / hours).toFixed(1),
      ]);
    }
  }
  return `False runs where no bee dances (a clip recurs every ${(20 * 9.5).toFixed(0)} s or so)\n${textTable(rows)}`;
}

async function calls(): Promise<string> {
  const rows = [
    ['background', 'half', 'SNR dB', 'call', 'calls', 'found', 'named right', 'called a run', 'in a run'],
  ];
  for (const background of backgrounds) {
    for (const half of halves) {
      for (const snrDb of [10, 6]) {
        const all = await trials(background, half, {
          snrDb,
          callSnrSdDb: 1,
          calls: { scale: 3, pipingPerHour: 20, tootingPerHour: 60, quackingPerHour: 60 },
        });
        rows.push(...callRows(all, [background, half, String(snrDb)]));
      }
    }
  }
  return `Calls outside runs\n${textTable(rows)}`;
}

function callRows(all: readonly Trial[], head: string[]): string[][] {
  return ['begging', 'piping', 'tooting', 'quacking'].map((kind) => {
    let reference = 0;
    let found = 0;
    let named = 0;
    let calledRun = 0;
    let inRun = 0;
    for (const { truth, found: tables } of all) {
      const alone = truth.calls.filter(
        (call) =>
          call.kind === kind &&
          !truth.trains.some(
            (train) => train.start_s < call.end_s + 0.05 && train.end_s > call.start_s - 0.05,
          ) &&
          !truth.calls.some(
            (other) =>
              other !== call &&
              other.kind !== 'other' &&
              other.start_s < call.end_s &&
              other.end_s > call.start_s,
          ),
      );
      const [compared] = compareCalls(alone, tables.calls);
      reference += alone.length;
      found += compared?.found ?? 0;
      named += compared?.namedRight ?? 0;
      for (const train of tables.trains) {
        const holdsCall = alone.some(
          (call) => Math.min(train.end_s, call.end_s) - Math.max(train.start_s, call.start_s) > 0.03,
        );
        if (!holdsCall) continue;
        if (truth.trains.some((run) => run.start_s < train.end_s && run.end_s > train.start_s)) inRun++;
        else calledRun++;
      }
    }
    const share = (count: number) => (count / reference).toFixed(3);
    return [...head, kind, String(reference), share(found), share(named), share(calledRun), share(inRun)];
  });
}

async function callsOnRuns(): Promise<string> {
  const rows = [
    ['background', 'half', 'call', 'SNR dB', 'runs', 'lost', 'cut', 'lengthened', 'median change ms'],
  ];
  for (const background of backgrounds) {
    for (const half of halves) {
      for (const place of PLACES) {
        for (const snrDb of [10, 6]) {
          const all: Overlaid[] = [];
          for (let index = 0; index < Math.ceil(seedCount / 2); index++)
            all.push(await overlaid(over(background, half, index, { snrDb }), place, snrDb));
          const runs = all.reduce((sum, one) => sum + one.runs, 0);
          const share = (pick: (one: Overlaid) => number) =>
            (all.reduce((sum, one) => sum + pick(one), 0) / runs).toFixed(3);
          rows.push([
            background,
            half,
            place,
            String(snrDb),
            String(runs),
            share((one) => one.lost),
            share((one) => one.cut),
            share((one) => one.lengthened),
            (1000 * medianOf(all.map((one) => one.medianChangeS))).toFixed(1),
          ]);
        }
      }
    }
  }
  return `Begging calls laid inside and against runs, change by more than 25 ms\n${textTable(rows)}`;
}

async function dancers(): Promise<string> {
  const rows = [['background', 'half', 'dancers', 'SNR dB', 'F1 of runs', 'pair-wise F1 of dances']];
  for (const background of backgrounds) {
    for (const half of halves) {
      for (const count of [1, 2, 3]) {
        for (const snrDb of [10, 6]) {
          const all = await trials(
            background,
            half,
            {
              snrDb,
              maxConcurrent: count,
              minCarrierGapHz: 15,
              dancesPerHour: count === 1 ? 100 : 250 * count,
            },
            Math.ceil(seedCount / 2),
          );
          rows.push([
            background,
            half,
            String(count),
            String(snrDb),
            withInterval(
              all.map((one) => compareTrains(one.truth.trains, one.found.trains).f1 ?? Number.NaN),
            ),
            withInterval(all.map((one) => groupingF1(one.truth.trains, one.found.trains))),
          ]);
        }
      }
    }
  }
  return `Several dancers at once, carriers at least 15 Hz apart\n${textTable(rows)}`;
}

/** Most runs are sure: of the doubtful ones there are enough in so many times the seeds. */
const CONFIDENCE_SEEDS = 12;

async function confidence(): Promise<string> {
  const parts: string[] = [];
  for (const background of backgrounds) {
    for (const half of halves) {
      const all = await trials(background, half, { snrDb: 6 }, CONFIDENCE_SEEDS * seedCount);
      const { bins, brier } = reliability(all.map((one) => [one.truth.trains, one.found.trains] as const));
      parts.push(
        `${background}, ${half}: Brier score ${brier.toFixed(3)}\n${textTable([
          ['confidence', 'runs listed', 'mean confidence', 'real', '95 % interval'],
          ...bins.map(({ label, count, mean, real, realLow, realHigh }) => [
            ...[label, String(count), mean.toFixed(3), real.toFixed(3)],
            `${realLow.toFixed(3)} to ${realHigh.toFixed(3)}`,
          ]),
        ])}`,
      );
    }
  }
  return `Confidence at 6 dB, ${CONFIDENCE_SEEDS * seedCount} seeds\n${parts.join('\n')}`;
}

/** By how much the fan below raises the power in 200 to 400 Hz over that of a real hive, dB; 4.8 to 6.0 in eight sounds. */
const FAN_RISE_DB = 5.5;

const DISTURBANCES: readonly (readonly [
  string,
  NonNullable<PartialSimulationOptions['disturbances']>[number],
  PartialSimulationOptions?,
])[] = [
  ['gain 0.01', { kind: 'gain', factor: 0.01 }],
  ['gain 100', { kind: 'gain', factor: 100 }],
  ['DC offset', { kind: 'dc-offset' }],
  ['inverted', { kind: 'inverted' }],
  ['mains 50 Hz', { kind: 'mains', frequencyHz: 50 }],
  ['mains 60 Hz', { kind: 'mains', frequencyHz: 60 }],
  ['gain step', { kind: 'gain-step' }],
  ['speech', { kind: 'speech' }],
  ['wind', { kind: 'wind' }],
  ['fan, 10 dB over the hive alone', { kind: 'fan' }],
  ['fan, 10 dB over hive and fan', { kind: 'fan' }, { snrDb: 10 + FAN_RISE_DB }],
  ['clipping 1 %', { kind: 'clipping' }],
  ['drop-outs', { kind: 'dropouts' }],
];

async function disturbances(): Promise<string> {
  const background = backgrounds[0]!;
  const rows = [['disturbance at 10 dB', 'F1 tuning', 'change', 'F1 proving', 'change']];
  const f1 = async (half: Half, more: PartialSimulationOptions) =>
    medianOfMeans(
      (await trials(background, half, { snrDb: 10, ...more }, 3)).map(
        (one) => compareTrains(one.truth.trains, one.found.trains).f1 ?? Number.NaN,
      ),
    );
  const plain = { tuning: await f1('tuning', {}), proving: await f1('proving', {}) };
  rows.push(['none', plain.tuning.toFixed(3), '', plain.proving.toFixed(3), '']);
  for (const [name, disturbance, more] of DISTURBANCES) {
    const tuning = await f1('tuning', { disturbances: [disturbance], ...more });
    const proving = await f1('proving', { disturbances: [disturbance], ...more });
    rows.push([
      name,
      tuning.toFixed(3),
      (tuning - plain.tuning).toFixed(3),
      proving.toFixed(3),
      (proving - plain.proving).toFixed(3),
    ]);
  }
  return `Disturbances, over ${background} background\n${textTable(rows)}`;
}

function medianOfMeans(figures: readonly number[]): number {
  return figures.length > 4 ? medianOf(figures) : figures.reduce((sum, f) => sum + f, 0) / figures.length;
}

const SECTIONS: Readonly<Record<string, () => Promise<string>>> = {
  trains: trainsBySnr,
  far: farTrains,
  false: falseTrains,
  calls,
  overlaid: callsOnRuns,
  dancers,
  confidence,
  disturbances,
};

process.stdout.write(
  `Accuracy, ${new Date().toISOString().slice(0, 10)}, ${seedCount} seeds a case. Simulated dances.\n`,
);
for (const name of values.only.split(',')) {
  const section = SECTIONS[name];
  if (section === undefined)
    throw new Error(`no section ${name}; there are ${Object.keys(SECTIONS).join(', ')}`);
  process.stdout.write(`\n${await section()}\n`);
}
