import { defaultDraws, defaultSeed } from '../calibration/defaults.ts';
import type { CompareSettings } from './compare-observations.ts';

/** How treatments are compared where nobody says otherwise: the command's defaults, and the report's way. */
export const compareDefaults = {
  runs: 'inner',
  level: 0.95,
  seed: defaultSeed,
  draws: 4 * defaultDraws,
  permutations: 4999,
} as const satisfies CompareSettings;
