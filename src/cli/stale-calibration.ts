import { firstNamed } from '../study/first-named.ts';
import { calibrationNamed } from '../study/store/calibrations.ts';
import { dancesChangedSince } from '../study/store/changed-dances.ts';
import type { OpenStudy } from '../study/study-folder.ts';
import { warn } from '../study/warn.ts';

/**
 * Warns where dances that a study's calibration rests on were changed after it was saved.
 *
 * @param name undefined for the calibration saved last
 */
export function tellStale({ folder, store }: OpenStudy, name?: string): void {
  const found = calibrationNamed(store, name);
  if (found === null) return;
  const { saved } = found;
  const changed = dancesChangedSince(store, saved);
  if (changed.length === 0) return;
  warn(
    `calibration ${saved.name} was saved before ${changed.length} of its ${saved.danceIds.length} dances ` +
      `${changed.length === 1 ? 'was' : 'were'} changed (${firstNamed(changed)}): calibrate again, ` +
      `by combtone calibrate --study ${folder} or on the page`,
  );
}
