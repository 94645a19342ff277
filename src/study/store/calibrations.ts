import type { CalibrationRecord } from '../calibration-record.ts';
import type { Store } from './open-store.ts';

/** A calibration saved under a name. Saved again, the name means the newer one; the older stays in the store. */
export interface SavedCalibration {
  readonly id: number;
  readonly name: string;
  readonly at: string;
  readonly reviewer: string;
  readonly danceIds: readonly string[];
}

const columns = 'calibration_id AS id, name, at, reviewer, dance_ids AS danceIds';

function savedOfSql(row: unknown): SavedCalibration {
  const { danceIds, ...rest } = row as Omit<SavedCalibration, 'danceIds'> & { readonly danceIds: string };
  return { ...rest, danceIds: JSON.parse(danceIds) as string[] };
}

/** Adds a calibration, with the time by this machine’s clock. @returns it as stored */
export function saveCalibration(
  store: Store,
  given: Pick<SavedCalibration, 'name' | 'reviewer' | 'danceIds'> & { readonly record: CalibrationRecord },
): SavedCalibration {
  const { name, reviewer, danceIds, record } = given;
  const at = new Date().toISOString();
  const { lastInsertRowid } = store
    .prepare('INSERT INTO calibrations (name, at, reviewer, dance_ids, record) VALUES (?, ?, ?, ?, ?)')
    .run(name, at, reviewer, JSON.stringify(danceIds), JSON.stringify(record));
  return { id: Number(lastInsertRowid), name, at, reviewer, danceIds };
}

/** The newest of each name, newest first. */
export function savedCalibrations(store: Store): SavedCalibration[] {
  return store
    .prepare(
      `SELECT ${columns} FROM calibrations
       WHERE calibration_id IN (SELECT max(calibration_id) FROM calibrations GROUP BY name)
       ORDER BY calibration_id DESC`,
    )
    .all()
    .map(savedOfSql);
}

/**
 * A saved calibration with its record.
 *
 * @param name undefined for the newest of all
 */
export function calibrationNamed(
  store: Store,
  name?: string,
): { saved: SavedCalibration; record: CalibrationRecord } | null {
  const rule = name === undefined ? '' : 'WHERE name = @name';
  const row = store
    .prepare(`SELECT ${columns}, record FROM calibrations ${rule} ORDER BY calibration_id DESC LIMIT 1`)
    .get(name === undefined ? {} : { name });
  if (row === undefined) return null;
  const { record, ...saved } = row as { record: string };
  return { saved: savedOfSql(saved), record: JSON.parse(record) as CalibrationRecord };
}
