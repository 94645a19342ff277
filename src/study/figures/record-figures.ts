import { type CalibrationRecord, fromMeasureRecord } from '../calibration-record.ts';
import { calibrationFigures } from './calibration-figures.ts';
import type { Figure } from './style.ts';

/** The figures of a calibration, of whichever measures it has. */
export function recordFigures({ duration, tempo }: CalibrationRecord): Figure[] {
  return [
    ...(duration === null
      ? []
      : calibrationFigures(fromMeasureRecord(duration), 'duration', 'run duration (s)')),
    ...(tempo === null ? [] : calibrationFigures(fromMeasureRecord(tempo), 'tempo', 'circuit time (s)')),
  ];
}
