import type { CalibrationRecord, MeasureRecord } from './calibration-record.ts';
import { counted } from './counted.ts';
import { fillsDistances, whyNoneLeftOut } from './left-out-words.ts';
import type { EstimateRow } from './tables.ts';
import { cell, textTable } from './text-table.ts';

/** A calibration for people to read: curve, parameters, scatter, what was tried, warnings. */
export function calibrationText(record: CalibrationRecord): string {
  const parts: string[] = [];
  if (record.duration !== null)
    parts.push(measureText('Run duration (s) on distance d (m)', record.duration));
  if (record.tempo !== null) {
    parts.push(measureText('Circuit time (s; 15 s over circuits per 15 s) on distance d (m)', record.tempo));
  }
  if (record.correlation !== null) parts.push(correlationText(record.correlation));
  if (record.warnings.length > 0) parts.push(warningText(record.warnings));
  return `${parts.join('\n\n')}\n`;
}

const estimateHeader = [
  'dance',
  'bee',
  'runs',
  'used',
  'mean run s',
  'circuits per 15 s',
  'distance m',
  'from',
  'to',
  'level',
  'in range',
  'note',
];

/** Estimates for people to read, one line per dance. */
export function estimatesText(rows: readonly EstimateRow[]): string {
  const words = rows.map((row) => [
    row.dance_id,
    row.bee_id ?? '',
    String(row.run_count),
    String(row.used_runs),
    cell(row.mean_duration_s, 3),
    cell(row.circuits_per_15s, 2),
    cell(row.distance_m, 0),
    cell(row.distance_low_m, 0),
    cell(row.distance_high_m, 0),
    `${Number((100 * row.level).toPrecision(4))} %`,
    row.in_range === null ? '' : row.in_range ? 'yes' : 'no',
    row.note ?? '',
  ]);
  return `${textTable([estimateHeader, ...words])}\n`;
}

function measureText(title: string, measure: MeasureRecord): string {
  const { counts } = measure;
  const lines = [
    `${title}: ${measure.curve}, ${measure.formula}`,
    `n: ${counted(counts.dances, 'dance')} (${counted(counts.runs, 'run')}) by ${counted(counts.bees, 'marked bee')} to ${counted(counts.feeders, 'distance')}, ` +
      `${figure(measure.nearestFeederM)} to ${figure(measure.farthestFeederM)} m`,
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
    textTable([['scatter (SD)', 's', '95 % from', 'to'], ...scatterRows(measure)]),
    '',
    `intraclass correlation: bees ${share(measure.beeShare)}, bees and dances ${share(measure.danceShare)}`,
    `R²: ${share(measure.marginalRSquared)} of the curve, ` +
      `${share(measure.conditionalRSquared)} of curve, bee and dance`,
    '',
    textTable([
      ['curve tried', 'parameters', 'AICc', 'difference', 'left-out error (m)', 'left-out error (s)', ''],
      ...candidateRows(measure),
    ]),
  ];
  if (measure.leaveOneOut.length > 0) lines.push('', whyNoneLeftOut(measure) ?? leftOutText(measure));
  if (measure.warnings.length > 0) lines.push('', warningText(measure.warnings));
  return lines.join('\n');
}

function correlationText({ runs, bees, dances }: NonNullable<CalibrationRecord['correlation']>): string {
  const ranged = ({ value, low, high }: typeof bees) =>
    `${value.toFixed(2)} (95 %: ${low.toFixed(2)} to ${high.toFixed(2)})`;
  return (
    'Duration and circuit time together: correlation ' +
    `of runs ${runs.toFixed(2)}, of dances ${ranged(dances)}, of bees ${ranged(bees)}`
  );
}

function scatterRows({ scatter, nearestFeederM, farthestFeederM, components }: MeasureRecord): string[][] {
  const row = (name: string, ranged: MeasureRecord['scatter']['betweenBeesS']) =>
    ranged === null
      ? [name, 'unknown', '', '']
      : [name, figure(ranged.value, 3), figure(ranged.low, 3), figure(ranged.high, 3)];
  return [
    row('between bees', scatter.betweenBeesS),
    row('between dances of a bee', scatter.betweenDancesS),
    row(`runs of a dance, at ${figure(nearestFeederM)} m`, scatter.runsNearS),
    ...(components.growth ? [row(`runs of a dance, at ${figure(farthestFeederM)} m`, scatter.runsFarS)] : []),
  ];
}

function candidateRows(measure: MeasureRecord): string[][] {
  const { candidates, curve } = measure;
  const least = Math.min(...candidates.flatMap(({ aicc }) => (aicc === null ? [] : [aicc])));
  return candidates.map((candidate) => [
    candidate.curve,
    String(candidate.parameterCount),
    candidate.aicc === null ? '-' : candidate.aicc.toFixed(2),
    candidate.aicc === null ? '-' : (candidate.aicc - least).toFixed(2),
    candidate.leftOutErrorM === null ? '-' : candidate.leftOutErrorM.toFixed(0),
    candidate.leftOutErrorS === null ? '-' : candidate.leftOutErrorS.toFixed(3),
    candidate.failure ??
      [
        candidate.curve === curve ? 'taken' : '',
        fillsDistances(candidate.curve, measure)
          ? 'as many parameters as distances: none can be left out'
          : '',
      ]
        .filter((words) => words !== '')
        .join('; '),
  ]);
}

function leftOutText({ leaveOneOut }: MeasureRecord): string {
  const misses = leaveOneOut.map(({ feederM, errorM }) => {
    const sign = errorM !== null && errorM >= 0 ? '+' : '';
    return `${figure(feederM)} m ${errorM === null ? 'unknown' : `${sign}${errorM.toFixed(0)} m`}`;
  });
  return `each feeder’s distance told without its own dances, and how far that is off: ${misses.join(', ')}`;
}

const share = (value: number) => value.toFixed(3);

function warningText(warnings: readonly string[]): string {
  return warnings.map((warning) => `Warning: ${warning}`).join('\n');
}

function figure(value: number, digits = 5): string {
  return String(Number(value.toPrecision(digits)));
}
