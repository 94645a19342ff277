import { InputError } from '../../input-error.ts';
import { compareDefaults } from '../compare-defaults.ts';
import { type ComparisonReport, compareObservations } from '../compare-observations.ts';
import { comparedDances } from '../compare-study.ts';
import { type MeasureWords, treatmentWords } from '../comparison-words.ts';
import type { Observations } from '../observations.ts';
import type { StudyView } from '../study-view.ts';
import { list, paragraph, section, subheading, tableHtml } from './html.ts';

/**
 * What `combtone compare --study` prints: each treatment against the reference. One line where no dance has a
 * treatment, or where those noted cannot be compared.
 */
export function treatmentsSection(view: StudyView, level: number): string {
  const { observations } = comparedDances(view);
  const compared = comparisonOf(observations, level);
  return section(
    'treatments',
    'Treatments',
    ...(typeof compared === 'string' ? [paragraph(compared)] : comparisonParts(compared)),
  );
}

/** The comparison, or why there is none. */
function comparisonOf(observations: Observations, level: number): ComparisonReport | string {
  if (observations.dances.every(({ treatment }) => treatment === null)) {
    return 'No dance to a feeder has a treatment noted: there is nothing to compare.';
  }
  try {
    return compareObservations(observations, { ...compareDefaults, level });
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    const { found, wanted } = error.badInput;
    return `The treatments are not compared: found ${found}; wanted ${wanted}.`;
  }
}

function comparisonParts({ treatments, reference, level }: ComparisonReport): string[] {
  const against = reference ?? 'no treatment';
  return treatments.flatMap((one) => [
    subheading(`${one.treatment} against ${against}`),
    ...treatmentWords(one, level).flatMap(measureParts),
    list(one.notes),
  ]);
}

function measureParts({ counts, header, rows, remarks, feeders, bees }: MeasureWords): string[] {
  const sentence = (words: string) => `${words.charAt(0).toUpperCase()}${words.slice(1)}.`;
  return [
    tableHtml(sentence(counts), header.with(0, 'measure'), rows),
    paragraph(remarks.map(sentence).join(' ')),
    ...(feeders === null
      ? []
      : [tableHtml('The same, feeder by feeder, each by its own dances.', feeders.header, feeders.rows)]),
    ...(feeders?.alike ? [paragraph(sentence(feeders.alike))] : []),
    ...(bees === null ? [] : [tableHtml('The same, bee by bee.', bees.header, bees.rows, 'dances.csv')]),
    ...(bees?.mean ? [paragraph(sentence(bees.mean))] : []),
  ];
}
