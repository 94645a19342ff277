import type { ComparisonReport, TreatmentComparison } from './compare-observations.ts';
import { type MeasureWords, treatmentWords } from './comparison-words.ts';
import { textTable } from './text-table.ts';

/** A comparison of treatments for people to read. */
export function comparisonText(report: ComparisonReport): string {
  const against = report.reference ?? 'no treatment';
  return `${report.treatments.map((one) => treatmentText(one, against, report.level)).join('\n\n')}\n`;
}

function treatmentText(compared: TreatmentComparison, against: string, level: number): string {
  return [
    `${compared.treatment} against ${against}`,
    ...treatmentWords(compared, level).map(measureText),
    ...compared.notes,
  ].join('\n\n');
}

function measureText({ counts, header, rows, remarks, feeders, bees }: MeasureWords): string {
  const lines = [counts, textTable([header, ...rows]), ...remarks];
  if (feeders !== null) {
    lines.push('', textTable([feeders.header, ...feeders.rows]));
    if (feeders.alike !== null) lines.push(feeders.alike);
  }
  if (bees !== null) {
    lines.push('', textTable([bees.header, ...bees.rows]));
    if (bees.mean !== null) lines.push(bees.mean);
  }
  return lines.join('\n');
}
