import type { Benchmark } from './benchmark.ts';

const HOUR_S = 3600;

/** How fast an hour is searched, and how much of that is reading it. */
export const detectSpeed: Benchmark = {
  name: 'speed',
  about: 'combtone detect on one hour, 16-bit mono 44.1 kHz, the whole command; and reading alone',
  run: async (bench) => {
    const path = await bench.recording(HOUR_S);
    // Read once beforehand, so that both find the file in memory.
    await bench.script('read-recording.js', path);
    const read = await bench.script('read-recording.js', path);
    const detect = await bench.detect(HOUR_S);
    return [
      { name: 'one hour, wall', value: detect.wallS, unit: 's' },
      { name: 'one hour, processor', value: detect.processorS, unit: 's' },
      { name: 'times real time', value: HOUR_S / detect.wallS, unit: '×' },
      { name: 'reading and converting alone, wall', value: read.wallS, unit: 's' },
      { name: 'detect over reading', value: detect.wallS / read.wallS, unit: '×' },
    ];
  },
};
