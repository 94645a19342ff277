import { join } from 'node:path';
import { InputError } from '../input-error.ts';
import { type CalibrationRecord, checkedCalibration } from './calibration-record.ts';
import { calibrationNamed, savedCalibrations } from './store/calibrations.ts';
import type { OpenStudy } from './study-folder.ts';

/**
 * A calibration saved in a study.
 *
 * @param name undefined for the one saved last
 * @throws InputError when there is none, none of that name, or it was saved by a combtone of another format
 */
export function savedCalibration(
  { folder, store }: OpenStudy,
  name?: string,
): { readonly name: string; readonly record: CalibrationRecord } {
  const found = calibrationNamed(store, name);
  if (found !== null) {
    const place = `${join(folder, 'study.sqlite')}: calibration ${found.saved.name}`;
    return { name: found.saved.name, record: checkedCalibration(place, found.record) };
  }
  const names = savedCalibrations(store).map((saved) => saved.name);
  if (name !== undefined && names.length > 0) {
    throw new InputError({
      file: '--saved',
      found: JSON.stringify(name),
      wanted: `one of: ${names.join(', ')}`,
    });
  }
  throw new InputError({
    file: folder,
    found: 'no saved calibration',
    wanted: `one saved by combtone calibrate --study ${folder} or on the review page, or --calibration with a file`,
  });
}
