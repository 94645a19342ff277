import { medianOf } from '../../../src/signal/quantile.ts';
import type { Benchmark, Figure } from './benchmark.ts';
import { outsideRun } from './outside-run.ts';

const HOUR_S = 3600;
const ROUNDS = 5;

/** How fast an hour is searched on one thread, beside reading it and beside a general signal library. */
export const detectSpeed: Benchmark = {
  name: 'speed',
  about: `combtone detect --threads 1 on one hour, 16-bit mono 44.1 kHz, the whole command; reading alone; and SciPy doing nothing but decimate, band-filter and envelope; in turn, median of ${ROUNDS}`,
  run: async (bench) => {
    const path = await bench.recording(HOUR_S);
    const walls: Record<'read' | 'detect' | 'envelope', number[]> = { read: [], detect: [], envelope: [] };
    const processor: number[] = [];
    // Read once beforehand, so that all find the file in memory.
    await bench.script('read-recording.js', path);
    for (let round = 0; round < ROUNDS; round++) {
      walls.read.push((await bench.script('read-recording.js', path)).wallS);
      const detect = await bench.combtone('detect', path, '--threads', '1');
      walls.detect.push(detect.wallS);
      processor.push(detect.processorS);
      const envelope = await outsideRun('python3', [bench.source('speed/envelope.py'), path]);
      if (envelope !== null) walls.envelope.push(envelope.wallS);
    }
    if (walls.envelope.length === 0) process.stderr.write('speed: no python3 with SciPy: not compared\n');
    const [read, detect, envelope] = [walls.read, walls.detect, walls.envelope].map(medianOf) as Medians;
    return [
      { name: 'one hour, wall', value: detect, unit: 's' },
      { name: 'one hour, processor', value: medianOf(processor), unit: 's' },
      { name: 'times real time', value: HOUR_S / detect, unit: '×' },
      { name: 'reading and converting alone, wall', value: read, unit: 's' },
      { name: 'detect over reading', value: detect / read, unit: '×' },
      ...envelopeFigures(envelope, detect),
    ];
  },
};

type Medians = [read: number, detect: number, envelope: number];

function envelopeFigures(envelope: number, detect: number): Figure[] {
  if (Number.isNaN(envelope)) return [];
  return [
    { name: 'SciPy, envelope alone, times real time', value: HOUR_S / envelope, unit: '×' },
    { name: 'detect over SciPy', value: detect / envelope, unit: '×' },
  ];
}
