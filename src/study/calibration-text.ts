import type { CalibrationRecord, MeasureRecord } from './calibration-record.ts';
import { type EstimateRow, estimateSchema } from './tables.ts';

/** A calibration for people to read: curve, parameters, scatter, what was tried, warnings. */
export function calibrationText(record: CalibrationRecord): string {
  const parts: string[] = [];
  if (record.duration !== null)
    parts.push(measureText('Run duration (s) on distance d (m)', record.duration));
  if (record.tempo !== null) {
    parts.push(measureText('Circuit time (s; 15 s over circuits per 15 s) on distance d (m)', record.tempo));
  }
  if (record.warnings.length > 0) parts.push(warningText(record.warnings));
  return `${parts.join('\n\n')}\n`;
}

/** Estimates for people to read, one line per dance. */
export function estimatesText(rows: readonly EstimateRow[]): string {
  const columns = Object.keys(estimateSchema.shape) as (keyof EstimateRow)[];
  const cell = (value: EstimateRow[keyof EstimateRow]) =>
    typeof value === 'number' ? String(Number(value.toPrecision(6))) : String(value ?? '');
  return `${textTable([columns, ...rows.map((row) => columns.map((column) => cell(row[column])))])}\n`;
}

function measureText(title: string, measure: MeasureRecord): string {
  const { counts } = measure;
  const lines = [
    `${title}: ${measure.curve}, ${measure.formula}`,
    `n: ${counts.dances} dances (${counts.runs} runs) by ${counts.bees} marked bees to ${counts.feeders} distances, ` +
      `${figure(measure.nearestFeederM)} to ${figure(measure.farthestFeederM)} m`,
    `residual SD ${figure(measure.residualSdS)} s on ${measure.degreesOfFreedom} degrees of freedom, ` +
      `R² ${measure.rSquared.toFixed(4)}`,
    `SD between dances ${figure(measure.betweenDanceSdS)} s, ` +
      `between runs of a dance ${measure.runSdS === null ? 'unknown' : `${figure(measure.runSdS)} s`}`,
    '',
    textTable([
      ['parameter', 'estimate', 'standard error', 'unit'],
      ...measure.parameters.map(({ name, unit, value, standardError }) => [
        name,
        figure(value),
        figure(standardError),
        unit,
      ]),
    ]),
    '',
    textTable([['curve tried', 'parameters', 'AICc', 'difference', ''], ...candidateRows(measure)]),
  ];
  if (measure.warnings.length > 0) lines.push('', warningText(measure.warnings));
  return lines.join('\n');
}

function candidateRows({ candidates, curve }: MeasureRecord): string[][] {
  const least = Math.min(...candidates.flatMap(({ aicc }) => (aicc === null ? [] : [aicc])));
  return candidates.map((candidate) => [
    candidate.curve,
    String(candidate.parameterCount),
    candidate.aicc === null ? '-' : candidate.aicc.toFixed(2),
    candidate.aicc === null ? '-' : (candidate.aicc - least).toFixed(2),
    candidate.failure ?? (candidate.curve === curve ? 'taken' : ''),
  ]);
}

function warningText(warnings: readonly string[]): string {
  return warnings.map((warning) => `Warning: ${warning}`).join('\n');
}

function figure(value: number): string {
  return String(Number(value.toPrecision(5)));
}

function textTable(rows: readonly (readonly string[])[]): string {
  const widths = rows[0].map((_, column) => Math.max(...rows.map((row) => row[column].length)));
  return rows
    .map((row) =>
      row
        .map((cell, column) => cell.padEnd(widths[column]))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}
