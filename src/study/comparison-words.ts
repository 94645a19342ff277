import type { Ranged } from '../calibration/calibration.ts';
import type { MeasureComparison, TreatmentComparison } from './compare-observations.ts';
import { counted } from './counted.ts';

/** One measure of a comparison in sentences and tables of text, which a terminal and a page show each in their way. */
export interface MeasureWords {
  /** Whose dances were compared. */
  readonly counts: string;
  readonly header: readonly string[];
  readonly rows: readonly (readonly string[])[];
  /** The test, and what could not be told. */
  readonly remarks: readonly string[];
  /** Shifts feeder by feeder; null where they cannot be told. */
  readonly feeders: {
    readonly header: readonly string[];
    readonly rows: readonly (readonly string[])[];
    /** Whether they are alike; null where a fit did not settle. */
    readonly alike: string | null;
  } | null;
  /** Shifts bee by bee; null where no bee danced under both. */
  readonly bees: {
    readonly header: readonly string[];
    readonly rows: readonly (readonly string[])[];
    readonly mean: string | null;
  } | null;
}

/** The measures of a treatment that could be compared, run duration first. @param level as of the report */
export function treatmentWords({ duration, tempo }: TreatmentComparison, level: number): MeasureWords[] {
  return [
    ...(duration === null ? [] : [measureWords('run duration', duration, level)]),
    ...(tempo === null ? [] : [measureWords('circuit time', tempo, level)]),
  ];
}

function measureWords(name: string, comparison: MeasureComparison, level: number): MeasureWords {
  const { counts, shiftS, shiftPer15s, meanShiftM, feedersM, pValue, shuffled } = comparison;
  const percent = `${Number((100 * level).toPrecision(4))} %`;
  return {
    counts:
      `${name}: ${counted(counts.treatedDances, 'dance')} under it, ${counts.referenceDances} without, by ` +
      `${counted(counts.bees, 'marked bee')}, ${counts.bothBees} of which danced under both`,
    header: ['', 'estimate', `${percent} from`, 'to'],
    rows: [
      [`shift of ${name} (s)`, ...cells(shiftS, 4)],
      ...(shiftPer15s === null ? [] : [['shift of tempo (circuits per 15 s)', ...cells(shiftPer15s, 3)]]),
      ...(meanShiftM === null ? [] : [['shift of indicated distance (m), mean', ...cells(meanShiftM, 0)]]),
    ],
    remarks: [
      ...(feedersM.length > 1
        ? [
            `the model has one shift of time, alike at every distance${meanShiftM === null ? '' : '; metres are its mean over the feeders'}`,
          ]
        : []),
      pValue === null
        ? 'no test: bees and feeders leave nothing to shuffle'
        : `permutation test, shuffling ${shuffled}: p ${probability(pValue)}`,
      ...(meanShiftM === null
        ? ['no metres: the reference dances bear no curve; give one with --calibration']
        : []),
    ],
    feeders: comparison.byFeeder.length === 0 ? null : feederWords(comparison, percent),
    bees: comparison.beeEffects.length === 0 ? null : beeWords(comparison, percent),
  };
}

/** From here on down a change with distance is a warning. */
const CHANGE_P = 0.05;

function feederWords({ byFeeder, change }: MeasureComparison, percent: string): MeasureWords['feeders'] {
  const inMetres = byFeeder.some(({ shiftM }) => shiftM !== null);
  const range = [`${percent} from`, 'to'];
  return {
    header: [
      'feeder (m)',
      'dances under it',
      'without',
      ...['shift (s)', ...range],
      ...(inMetres ? ['distance (m)', ...range] : []),
    ],
    rows: byFeeder.map(({ feederM, treatedDances, referenceDances, shiftS, shiftM }) => [
      String(feederM),
      String(treatedDances),
      String(referenceDances),
      ...cells(shiftS, 4),
      ...(shiftM === null ? [] : cells(shiftM, 0)),
    ]),
    alike: change === null ? null : changeWords(change),
  };
}

function changeWords({ likelihoodRatio, pValue }: NonNullable<MeasureComparison['change']>): string {
  const test = `likelihood ratio ${likelihoodRatio.toFixed(2)} on 1 degree of freedom, p ${probability(pValue)}`;
  return pValue < CHANGE_P
    ? `Warning: the shift is not alike at every distance (${test}); the one shift is a mean over these feeders, report each`
    : `that the shift changes with distance is not shown (${test})`;
}

function beeWords({ beeEffects, overBees }: MeasureComparison, percent: string): MeasureWords['bees'] {
  const [value, low, high] = overBees === null ? [] : cells(overBees.shiftS, 4);
  return {
    header: ['bee', 'dances under it', 'without', 'shift (s)', `${percent} from`, 'to'],
    rows: beeEffects.map(({ beeId, treatedDances, referenceDances, shiftS }) => [
      beeId,
      String(treatedDances),
      String(referenceDances),
      ...cells(shiftS, 4),
    ]),
    mean:
      overBees === null
        ? null
        : `mean of ${overBees.bees} bees, each counted once: ${value} s (${percent}: ${low} to ${high}), t test p ${probability(overBees.pValue)}`,
  };
}

function cells({ value, low, high }: Ranged, decimals: number): string[] {
  return [value, low, high].map((figure) => figure.toFixed(decimals));
}

const probability = (value: number) => (value < 0.001 ? '< 0.001' : `= ${value.toFixed(3)}`);
