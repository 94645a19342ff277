import type { Truth } from './coverage-study.ts';

const feedersM = [150, 400, 800, 1400, 2200];
const colonies = {
  line: (d: number) => 0.2 + 0.0012 * d,
  saturating: (d: number) => 0.15 + 3.2 * (1 - Math.exp(-d / 2000)),
  power: (d: number) => 0.05 + 1.3 * (d / 1000) ** 0.75,
  'broken-line': (d: number) => 0.15 + 0.0016 * Math.min(d, 1000) + 0.0009 * Math.max(d - 1000, 0),
} as const;

const usual = {
  feedersM,
  bees: 8,
  beeSdS: 0.05,
  danceSdS: 0.04,
  skewness: 0,
  dancesPer: 'feeder',
  newDancesBy: 'new bees',
} as const;

/** Every kind of study that coverage is reported for. */
export const coverageCases: readonly Truth[] = [
  ...Object.entries(colonies).map(([curve, timeS]): Truth => ({ ...usual, name: `${curve}, normal`, timeS })),
  ...Object.entries(colonies).map(
    ([curve, timeS]): Truth => ({ ...usual, name: `${curve}, skewed`, timeS, skewness: 1 }),
  ),
  { ...usual, name: 'line, 5 bees', timeS: colonies.line, bees: 5 },
  { ...usual, name: 'saturating, bees differ as runs do', timeS: colonies.saturating, beeSdS: 0.14 },
  { ...usual, name: 'saturating, bees alike', timeS: colonies.saturating, beeSdS: 0 },
  { ...usual, name: 'line, known bees', timeS: colonies.line, newDancesBy: 'known bees', beeSdS: 0.1 },
  { ...usual, name: 'line, 2 to 4 dances a bee in all', timeS: colonies.line, dancesPer: 'bee' },
  { ...usual, name: 'saturating, 2 to 4 dances a bee in all', timeS: colonies.saturating, dancesPer: 'bee' },
  { ...usual, name: 'line, 3 feeders', timeS: colonies.line, feedersM: [200, 900, 2200] },
  { ...usual, name: 'saturating, 3 feeders', timeS: colonies.saturating, feedersM: [200, 900, 2200] },
  { ...usual, name: 'line, 3 bees', timeS: colonies.line, bees: 3 },
  { ...usual, name: 'line, 3 bees that differ as runs do', timeS: colonies.line, bees: 3, beeSdS: 0.14 },
  { ...usual, name: 'saturating, 3 bees, skewed', timeS: colonies.saturating, bees: 3, skewness: 1 },
  {
    ...usual,
    name: 'line, 3 feeders, 3 bees',
    timeS: colonies.line,
    feedersM: [200, 900, 2200],
    bees: 3,
  },
];
