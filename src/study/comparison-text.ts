import type { Ranged } from '../calibration/calibration.ts';
import type { ComparisonReport, MeasureComparison, TreatmentComparison } from './compare-observations.ts';
import { textTable } from './text-table.ts';

/** A comparison of treatments for people to read. */
export function comparisonText(report: ComparisonReport): string {
  const against = report.reference ?? 'no treatment';
  return `${report.treatments.map((one) => treatmentText(one, against, report.level)).join('\n\n')}\n`;
}

function treatmentText(
  { treatment, duration, tempo, notes }: TreatmentComparison,
  against: string,
  level: number,
) {
  const parts = [`${treatment} against ${against}`];
  if (duration !== null) parts.push(measureText('run duration', duration, level));
  if (tempo !== null) parts.push(measureText('circuit time', tempo, level));
  parts.push(...notes);
  return parts.join('\n\n');
}

function measureText(name: string, comparison: MeasureComparison, level: number): string {
  const { counts, shiftS, shiftPer15s, meanShiftM, metres, pValue, shuffled } = comparison;
  const percent = `${Number((100 * level).toPrecision(4))} %`;
  const rows = [
    [`shift of ${name} (s)`, ...cells(shiftS, 4)],
    ...(shiftPer15s === null ? [] : [['shift of tempo (circuits per 15 s)', ...cells(shiftPer15s, 3)]]),
    ...(meanShiftM === null ? [] : [['shift of indicated distance (m), mean', ...cells(meanShiftM, 0)]]),
    ...metres.map(({ feederM, shiftM }) => [`  at the feeder at ${feederM} m`, ...cells(shiftM, 0)]),
  ];
  const lines = [
    `${name}: ${counts.treatedDances} dances under it, ${counts.referenceDances} without, by ${counts.bees} ` +
      `marked bees, ${counts.bothBees} of which danced under both`,
    textTable([['', 'estimate', `${percent} from`, 'to'], ...rows]),
    pValue === null
      ? 'no test: bees and feeders leave nothing to shuffle'
      : `permutation test, shuffling ${shuffled}: p ${probability(pValue)}`,
  ];
  if (meanShiftM === null)
    lines.push('no metres: the reference dances bear no curve; give one with --calibration');
  if (comparison.beeEffects.length > 0) lines.push('', beesText(comparison, percent));
  return lines.join('\n');
}

function beesText({ beeEffects, overBees }: MeasureComparison, percent: string): string {
  const rows = beeEffects.map(({ beeId, treatedDances, referenceDances, shiftS }) => [
    beeId,
    String(treatedDances),
    String(referenceDances),
    ...cells(shiftS, 4),
  ]);
  const table = textTable([
    ['bee', 'dances under it', 'without', 'shift (s)', `${percent} from`, 'to'],
    ...rows,
  ]);
  if (overBees === null) return table;
  const { bees, shiftS, pValue } = overBees;
  const [value, low, high] = cells(shiftS, 4);
  return `${table}\nmean of ${bees} bees, each counted once: ${value} s (${percent}: ${low} to ${high}), t test p ${probability(pValue)}`;
}

function cells({ value, low, high }: Ranged, decimals: number): string[] {
  return [value, low, high].map((figure) => figure.toFixed(decimals));
}

const probability = (value: number) => (value < 0.001 ? '< 0.001' : `= ${value.toFixed(3)}`);
