import { defaultDraws, defaultSeed } from '../calibration/calibrate.ts';
import type { CompareSettings } from './compare-observations.ts';
import { observationsOfStudy } from './study-observations.ts';
import type { StudyView } from './study-view.ts';

/** How treatments are compared where nobody says otherwise: the command's defaults, and the report's way. */
export const compareDefaults = {
  runs: 'inner',
  level: 0.95,
  seed: defaultSeed,
  draws: 4 * defaultDraws,
  permutations: 4999,
} as const satisfies CompareSettings;

/** The dances of a study that treatments are compared by: those to feeders, of known dancers. */
export const comparedDances = (view: StudyView) => observationsOfStudy(view, false);
