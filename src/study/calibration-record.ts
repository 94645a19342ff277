import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import type { Calibration, Ranged } from '../calibration/calibration.ts';
import { curveNamed, curves } from '../calibration/curves/registry.ts';
import type { Correlations } from '../calibration/joint.ts';
import { runChoices } from '../calibration/runs.ts';
import { InputError } from '../input-error.ts';
import { writeWhole } from './csv.ts';

/** Raised whenever a reader of the former version would misread a record. */
export const calibrationFormatVersion = 2;

const count = z.number().int().min(0);
const positive = z.number().positive();
const figure = z.number();
const rangedSchema = z.object({ value: figure, low: figure, high: figure });

const measureSchema = z.object({
  curve: z.enum(curves.map((curve) => curve.name) as [string, ...string[]]),
  formula: z.string(),
  parameters: z.array(
    z.object({ name: z.string(), unit: z.string(), value: figure, standardError: z.number().min(0) }),
  ),
  covariance: z.array(z.array(figure)),
  /** Which variance components the dances can tell apart. */
  components: z.object({ bee: z.boolean(), dance: z.boolean(), growth: z.boolean() }),
  /** SDs in s, by restricted maximum likelihood, with 95 % intervals; null where the dances cannot tell. */
  scatter: z.object({
    betweenBeesS: rangedSchema.nullable(),
    betweenDancesS: rangedSchema.nullable(),
    runsNearS: rangedSchema,
    runsFarS: rangedSchema,
  }),
  beeShare: figure,
  danceShare: figure,
  marginalRSquared: figure,
  conditionalRSquared: figure,
  restrictedLogLikelihood: figure,
  nearestFeederM: positive,
  farthestFeederM: positive,
  counts: z.object({ feeders: count, bees: count, dances: count, runs: count }),
  candidates: z.array(
    z.object({
      curve: z.string(),
      parameterCount: count,
      logLikelihood: figure.nullable(),
      aicc: figure.nullable(),
      leftOutErrorM: figure.nullable(),
      leftOutErrorS: figure.nullable(),
      failure: z.string().nullable(),
    }),
  ),
  leaveOneOut: z.array(z.object({ feederM: positive, errorM: figure.nullable(), errorS: figure.nullable() })),
  warnings: z.array(z.string()),
  seed: z.number().int(),
  /** One row per draw: the parameters, bee variance, dance variance (s²), run SD near and far (s). */
  draws: z.array(z.array(figure)).min(1),
  /** One row per dance: dance_id, bee_id, distance (m), mean (s), used runs, squared deviations (s²). */
  dances: z.array(
    z.tuple([
      z.string(),
      z.string().nullable(),
      positive,
      figure,
      z.number().int().min(1),
      z.number().min(0),
    ]),
  ),
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
    tempoCurve: z.string(),
    runs: z.enum(runChoices),
    /** The reference treatment; null for dances without a treatment. */
    reference: z.string().nullable(),
    seed: z.number().int(),
    draws: z.number().int().min(1),
  }),
  duration: measureSchema.nullable(),
  tempo: measureSchema.nullable(),
  /**
   * Correlations of duration and circuit time; null where only one of them is calibrated.
   */
  correlation: z
    .object({
      runs: z.number().min(-1).max(1),
      bees: rangedSchema,
      dances: rangedSchema,
      /** One row per draw: of bees, of dances. */
      draws: z.array(z.tuple([figure, figure])),
      /** Which draw of the tempo goes with each draw of the duration, from 0. */
      tempoDraws: z.array(count),
      /** dance_id and number of runs with both measures. */
      paired: z.array(z.tuple([z.string(), count])),
    })
    .nullable(),
  warnings: z.array(z.string()),
});

export type CalibrationRecord = z.infer<typeof calibrationRecordSchema>;
export type MeasureRecord = z.infer<typeof measureSchema>;

/** Ten significant digits: a draw says nothing beyond them. */
export function shortened(value: number): number {
  return Number(value.toPrecision(10));
}

/** A calibration as it is written: every parameter with its name, unit and standard error. */
export function toMeasureRecord(calibration: Calibration): MeasureRecord {
  const { curve, parameters, standardErrors, draws, dances, ...rest } = calibration;
  const { formula, parameters: named } = curveNamed(curve)!;
  const written = named.map(({ name, unit }, index) => ({
    name,
    unit,
    value: parameters[index],
    standardError: standardErrors[index],
  }));
  // Copied through the schema: its order of keys is the order in the file.
  return measureSchema.parse({
    curve,
    formula,
    parameters: written,
    ...rest,
    draws: draws.map(({ parameters: drawn, variances: { bee, dance, nearRunSd, farRunSd } }) =>
      [...drawn, bee, dance, nearRunSd, farRunSd].map(shortened),
    ),
    dances: dances.map(({ danceId, beeId, distanceM, meanS, usedRuns, squaredDeviations }) => [
      danceId,
      beeId,
      distanceM,
      shortened(meanS),
      usedRuns,
      shortened(squaredDeviations),
    ]),
  });
}

/** Correlations as they are written. */
export function toCorrelationRecord({ runs, bees, dances, draws, tempoDraws, paired }: Correlations) {
  const ranged = ({ value, low, high }: Ranged) => ({
    value: shortened(value),
    low: shortened(low),
    high: shortened(high),
  });
  return {
    runs: shortened(runs),
    bees: ranged(bees),
    dances: ranged(dances),
    draws: draws.map(([bee, dance]): [number, number] => [shortened(bee), shortened(dance)]),
    tempoDraws: [...tempoDraws],
    paired: paired.map(([danceId, own]): [string, number] => [danceId, own]),
  };
}

/** The calibration that a record holds. */
export function fromMeasureRecord(record: MeasureRecord): Calibration {
  const { formula: _, parameters, draws, dances, ...rest } = record;
  const size = parameters.length;
  return {
    ...rest,
    parameters: parameters.map(({ value }) => value),
    standardErrors: parameters.map(({ standardError }) => standardError),
    draws: draws.map((row) => ({
      parameters: row.slice(0, size),
      variances: { bee: row[size], dance: row[size + 1], nearRunSd: row[size + 2], farRunSd: row[size + 3] },
    })),
    dances: dances.map(([danceId, beeId, distanceM, meanS, usedRuns, squaredDeviations]) => ({
      danceId,
      beeId,
      distanceM,
      meanS,
      usedRuns,
      squaredDeviations,
    })),
  };
}

/** calibration.json as it is written: the same record gives the same bytes. Rows of figures take one line. */
export function formatCalibration(record: CalibrationRecord): string {
  const spread = JSON.stringify(calibrationRecordSchema.parse(record), null, 2);
  const rows = spread.replaceAll(/\[\n\s+([^[\]{}]*?)\n\s+\]/g, (_, inner: string) => {
    return `[${inner.replaceAll(/\n\s+/g, ' ')}]`;
  });
  return `${rows}\n`;
}

/** Writes calibration.json through a temporary name. */
export async function writeCalibration(path: string, record: CalibrationRecord): Promise<void> {
  await writeWhole(path, formatCalibration(record));
}

/**
 * Reads calibration.json.
 *
 * @throws InputError when the file is not there, is no calibration, is of another format or contradicts itself
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
  return checkedCalibration(path, parseJson(content));
}

/**
 * A calibration that was read from somewhere.
 *
 * @param path what errors name it by
 * @throws InputError when it is no calibration, is of another format or contradicts itself
 */
export function checkedCalibration(path: string, parsed: unknown): CalibrationRecord {
  const wanted = 'a calibration.json written by combtone calibrate';
  const version = (parsed as { formatVersion?: unknown } | null | undefined)?.formatVersion;
  if (typeof version === 'number' && version !== calibrationFormatVersion) {
    const newer = version > calibrationFormatVersion;
    throw new InputError({
      file: path,
      place: 'formatVersion',
      found: `${version}, from ${newer ? 'a newer' : 'an older'} combtone`,
      wanted: newer
        ? `${calibrationFormatVersion}, or a newer combtone to read it`
        : `${calibrationFormatVersion}: run combtone calibrate again on the same observations`,
    });
  }
  const result = calibrationRecordSchema.safeParse(parsed);
  if (!result.success) {
    const issue = result.error.issues[0];
    const place = issue.path.length > 0 ? { place: issue.path.join('.') } : {};
    throw new InputError({
      file: path,
      ...place,
      found: issue.path.length > 0 ? `no calibration (${issue.message})` : 'no calibration',
      wanted,
    });
  }
  for (const measure of [result.data.duration, result.data.tempo]) {
    if (measure !== null) checkShape(path, measure, wanted);
  }
  checkCorrelation(path, result.data, wanted);
  return result.data;
}

function checkCorrelation(path: string, { duration, tempo, correlation }: CalibrationRecord, wanted: string) {
  if (correlation === null) return;
  const draws = Math.min(duration?.draws.length ?? 0, tempo?.draws.length ?? 0);
  const { tempoDraws } = correlation;
  const fits =
    correlation.draws.length === draws && tempoDraws.length === draws && tempoDraws.every((s) => s < draws);
  if (!fits) {
    throw new InputError({
      file: path,
      place: 'correlation',
      found: `not ${draws} draws of both measures`,
      wanted,
    });
  }
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
  const odd = measure.draws.findIndex((row) => row.length !== size + 4);
  if (odd >= 0) {
    const place = `draws, row ${odd + 1}`;
    throw new InputError({
      file: path,
      place,
      found: `${measure.draws[odd].length} figures`,
      wanted: `${size + 4}`,
    });
  }
  const fault = curve.fault(measure.parameters.map(({ value }) => value));
  if (fault !== undefined) throw new InputError({ file: path, place: 'parameters', found: fault, wanted });
}
