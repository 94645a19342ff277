import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import type { Calibration } from '../calibration/calibrate.ts';
import { curveNamed, curves } from '../calibration/curves/registry.ts';
import { runChoices } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { writeWhole } from './csv.ts';

/** Raised whenever a reader of the former version would misread a record. */
export const calibrationFormatVersion = 1;

const count = z.number().int().min(0);
const positive = z.number().positive();

const measureSchema = z.object({
  curve: z.enum(curves.map((curve) => curve.name) as [string, ...string[]]),
  formula: z.string(),
  parameters: z.array(
    z.object({ name: z.string(), unit: z.string(), value: z.number(), standardError: z.number().min(0) }),
  ),
  covariance: z.array(z.array(z.number())),
  residualSdS: z.number().min(0),
  degreesOfFreedom: z.number().int().min(1),
  rSquared: z.number(),
  betweenDanceSdS: z.number().min(0),
  runSdS: z.number().min(0).nullable(),
  nearestFeederM: positive,
  farthestFeederM: positive,
  counts: z.object({ feeders: count, bees: count, dances: count, runs: count }),
  candidates: z.array(
    z.object({
      curve: z.string(),
      parameterCount: count,
      residualSum: z.number().nullable(),
      aicc: z.number().nullable(),
      failure: z.string().nullable(),
    }),
  ),
  warnings: z.array(z.string()),
});

/**
 * calibration.json. Distances are metres, times seconds; `tempo` is a curve of circuit time (15 s over the
 * circuits per 15 s).
 */
export const calibrationRecordSchema = z.object({
  format: z.literal('combtone calibration'),
  formatVersion: z.literal(calibrationFormatVersion),
  combtoneVersion: z.string(),
  /** SHA-256 of the observations' rows, written again as CSV with the known columns in order. */
  dataSha256: z.string().regex(/^[0-9a-f]{64}$/),
  settings: z.object({
    curve: z.string(),
    runs: z.enum(runChoices),
    /** The reference treatment; null for dances without a treatment. */
    reference: z.string().nullable(),
  }),
  duration: measureSchema.nullable(),
  tempo: measureSchema.nullable(),
  warnings: z.array(z.string()),
});

export type CalibrationRecord = z.infer<typeof calibrationRecordSchema>;
export type MeasureRecord = z.infer<typeof measureSchema>;

/** A calibration as it is written: every parameter with its name, unit and standard error. */
export function toMeasureRecord(calibration: Calibration): MeasureRecord {
  const { curve, parameters, standardErrors, ...rest } = calibration;
  const { formula, parameters: named } = curveNamed(curve)!;
  const written = named.map(({ name, unit }, index) => ({
    name,
    unit,
    value: parameters[index],
    standardError: standardErrors[index],
  }));
  // Copied through the schema: its order of keys is the order in the file.
  return measureSchema.parse({ curve, formula, parameters: written, ...rest });
}

/** The calibration that a record holds. */
export function fromMeasureRecord(record: MeasureRecord): Calibration {
  const { formula: _, parameters, ...rest } = record;
  return {
    ...rest,
    parameters: parameters.map(({ value }) => value),
    standardErrors: parameters.map(({ standardError }) => standardError),
  };
}

/** calibration.json as it is written: the same record gives the same bytes. */
export function formatCalibration(record: CalibrationRecord): string {
  return `${JSON.stringify(calibrationRecordSchema.parse(record), null, 2)}\n`;
}

/** Writes calibration.json through a temporary name. */
export async function writeCalibration(path: string, record: CalibrationRecord): Promise<void> {
  await writeWhole(path, formatCalibration(record));
}

/**
 * Reads calibration.json.
 *
 * @throws InputError when the file is not there, is no calibration, is of a newer format or contradicts itself
 */
export async function readCalibration(path: string): Promise<CalibrationRecord> {
  const wanted = 'a calibration.json written by combtone calibrate';
  let content: string;
  try {
    content = await readFile(path, 'utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw new InputError({ file: path, found: code === 'ENOENT' ? 'no such file' : String(code), wanted });
  }
  const parsed = parseJson(content);
  const version = (parsed as { formatVersion?: unknown } | null | undefined)?.formatVersion;
  if (typeof version === 'number' && version > calibrationFormatVersion) {
    throw new InputError({
      file: path,
      place: 'formatVersion',
      found: `${version}, from a newer combtone`,
      wanted: `${calibrationFormatVersion}, or a newer combtone to read it`,
    });
  }
  const result = calibrationRecordSchema.safeParse(parsed);
  if (!result.success) {
    const issue = result.error.issues[0];
    const place = issue.path.length > 0 ? { place: issue.path.join('.') } : {};
    throw new InputError({ file: path, ...place, found: `no calibration (${issue.message})`, wanted });
  }
  for (const measure of [result.data.duration, result.data.tempo]) {
    if (measure !== null) checkShape(path, measure, wanted);
  }
  return result.data;
}

function parseJson(content: string): unknown {
  try {
    return JSON.parse(content);
  } catch {
    return undefined;
  }
}

function checkShape(path: string, measure: MeasureRecord, wanted: string): void {
  const curve = curveNamed(measure.curve)!;
  const names = curve.parameters.map(({ name }) => name).join(', ');
  const found = measure.parameters.map(({ name }) => name).join(', ');
  if (found !== names) {
    const place = `parameters of the ${curve.name} curve`;
    throw new InputError({ file: path, place, found: found || 'none', wanted: names });
  }
  const size = curve.parameters.length;
  const square = measure.covariance.length === size && measure.covariance.every((row) => row.length === size);
  if (!square) {
    throw new InputError({ file: path, place: 'covariance', found: `not ${size} × ${size} numbers`, wanted });
  }
  const fault = curve.fault(measure.parameters.map(({ value }) => value));
  if (fault !== undefined) throw new InputError({ file: path, place: 'parameters', found: fault, wanted });
}
