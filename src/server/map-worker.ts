import { InputError } from '../input-error.ts';
import type { MapWeight } from '../study/map-weights.ts';
import { studyFindings } from '../study/study-findings.ts';
import { openStudy, readPlaces } from '../study/study-folder.ts';
import { type MapFilter, studyMapView } from '../study/study-map-view.ts';
import { studyView } from '../study/study-view.ts';
import type { StudyMapView } from './api.ts';
import { keptEstimates } from './kept-estimates.ts';

export interface MapTask {
  /** The study's folder: the thread reads it for itself. */
  readonly folder: string;
  readonly filter: MapFilter;
  readonly weight: MapWeight;
}

export type MapResult =
  | { readonly ok: true; readonly view: StudyMapView }
  /** Errors lose their class between threads. */
  | { readonly ok: false; readonly message: string };

/** As long as the thread lives. */
const told = keptEstimates();

/** The map of a study, in a thread of its own: its dances are estimated for it, which takes seconds for a summer. */
export default async function map({ folder, filter, weight }: MapTask): Promise<MapResult> {
  try {
    const study = await openStudy(folder, true);
    try {
      const findings = studyFindings(studyView(study, await readPlaces(study)), 0.95, told);
      return { ok: true, view: studyMapView(study, findings, filter, weight) };
    } finally {
      study.store.close();
    }
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { ok: false, message: error.message };
  }
}
