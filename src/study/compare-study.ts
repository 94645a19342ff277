import { observationsOfStudy } from './study-observations.ts';
import type { StudyView } from './study-view.ts';

/** The dances of a study that treatments are compared by: those to feeders, of known dancers. */
export const comparedDances = (view: StudyView) => observationsOfStudy(view, false);
