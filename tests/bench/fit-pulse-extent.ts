/**
 * The recipe of the straight line in src/dance/pulse-extent.ts: simulates trains of many pulse lengths and shapes
 * well over the noise, measures the quarter widths of each train's mean pulse as the detector does, and fits onset
 * and offset to them by least squares.
 *
 *   npm run pulse-extent -- [--hours 0.5]
 */
import { parseArgs } from 'node:util';
import { Matrix, solve } from 'ml-matrix';
import { matchedView, strongestNear } from '../../src/dance/matched-view.ts';
import { EXTENT, quarterWidths } from '../../src/dance/pulse-extent.ts';
import { viewSegment } from '../../src/dance/segment-view.ts';
import { DEFAULT_SETTINGS } from '../../src/dance/settings.ts';
import { decimator } from '../../src/signal/decimator.ts';
import { medianOf } from '../../src/signal/quantile.ts';
import { simulateSound } from '../../src/simulate/index.ts';
import { textTable } from '../../src/study/text-table.ts';

interface Measured {
  readonly leftS: number;
  readonly rightS: number;
  readonly beforeS: number;
  readonly afterS: number;
}

/** Length of each sound, s; every one has bees, and so pulses, of its own. */
const SOUND_S = 120;
const MARGIN_S = 0.2;

async function measuredIn(seed: number): Promise<Measured[]> {
  const sound = await simulateSound(
    { seed, lengthS: SOUND_S, snrDb: 15, dancesPerHour: 150, background: { kind: 'synthetic' } },
    'r',
  );
  const stage = decimator(sound.sampleRateHz);
  const samples = Float32Array.from([...stage.push(sound.channels[0]!), ...stage.finish()]);
  const view = viewSegment(samples, stage.analysisRateHz, DEFAULT_SETTINGS);
  return sound.truth.trains.flatMap((train) => {
    const own = sound.truth.pulses.filter((pulse) => pulse.train_id === train.train_id);
    const range = { fromS: train.start_s - MARGIN_S, toS: train.end_s + MARGIN_S };
    const middleS = (train.start_s + train.end_s) / 2;
    const seen = matchedView(view.samples, view.sampleRateHz, train.carrier_hz!, range, (hz) =>
      view.noisePowerAt(middleS, hz),
    );
    if (seen === null || own.length < 4) return [];
    const pulses = own.map((pulse) => strongestNear(seen, (pulse.onset_s + pulse.offset_s) / 2, 0.008));
    const { leftS, rightS } = quarterWidths(seen, pulses, 1 / train.pulse_rate_hz!);
    return [
      {
        leftS,
        rightS,
        beforeS: medianOf(own.map((pulse, k) => pulses[k]!.timeS - pulse.onset_s)),
        afterS: medianOf(own.map((pulse, k) => pulse.offset_s - pulses[k]!.timeS)),
      },
    ];
  });
}

/** Least-squares fit of 1, left and right to a distance. */
function lineOf(all: readonly Measured[], pick: (one: Measured) => number) {
  const rows = new Matrix(all.map((one) => [1, one.leftS, one.rightS]));
  return solve(rows, Matrix.columnVector(all.map(pick)), true).to1DArray();
}

/** Median of what a line misses, and of its absolute value, ms. */
function missedMs(
  all: readonly Measured[],
  pick: (one: Measured) => number,
  line: readonly number[],
): string {
  const missed = all.map((one) => pick(one) - line[0]! - line[1]! * one.leftS - line[2]! * one.rightS);
  return `${(1000 * medianOf(missed)).toFixed(2)}, ${(1000 * medianOf(missed.map(Math.abs))).toFixed(2)}`;
}

const { values } = parseArgs({ options: { hours: { type: 'string', default: '0.5' } } });
const all: Measured[] = [];
for (let seed = 1; seed <= (Number(values.hours) * 3600) / SOUND_S; seed++)
  all.push(...(await measuredIn(seed)));
const rows = (['before', 'after'] as const).flatMap((side) => {
  const pick = (one: Measured) => (side === 'before' ? one.beforeS : one.afterS);
  const { atZeroS, left, right } = EXTENT[side];
  return (
    [
      ['fitted', lineOf(all, pick)],
      ['in the code', [atZeroS, left, right]],
    ] as const
  ).map(([name, line]) => [
    side,
    name,
    line.map((value) => value.toFixed(4)).join(', '),
    missedMs(all, pick, line),
  ]);
});
process.stdout.write(
  textTable([['side', 'line', 'at zero (s), left, right', 'missed: median, absolute (ms)'], ...rows]),
);
process.stdout.write(`\n${all.length} simulated trains\n`);
