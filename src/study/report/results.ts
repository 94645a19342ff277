import type { MeasureRecord } from '../calibration-record.ts';
import { daySources } from '../day/day-sources.ts';
import { arrivalCells, arrivalHeader, hourCells, hourHeader } from '../day/day-text.ts';
import type { StudyDay } from '../day/study-day.ts';
import { dayFigures } from '../figures/day-figures.ts';
import { mapFigure } from '../figures/map-figure.ts';
import { recordFigures } from '../figures/record-figures.ts';
import type { Figure } from '../figures/style.ts';
import { whyNoneLeftOut } from '../left-out-words.ts';
import { otherTreatmentCaution, otherTreatmentWords } from '../other-treatment.ts';
import type { DanceFinding, StudyFindings } from '../study-findings.ts';
import { siteOf } from '../study-folder.ts';
import type { StudyMap } from '../study-map.ts';
import type { StudyView } from '../study-view.ts';
import { cell } from '../text-table.ts';
import { list, paragraph, section, tableHtml } from './html.ts';

/** Puts figures into the page and gives the places for them. */
export type Place = (figures: readonly Figure[], captions?: Readonly<Record<string, string>>) => string;

const captionOf = {
  curve: 'Dance means by bee, fitted curve and band that holds 95 % of means of five runs of a further bee.',
  residuals: 'Residuals of dance means over the standard deviation that bees, dances and runs give them.',
  quantiles: 'The same against a normal distribution.',
  'left-out': 'Error of each feeder’s distance when told without its own dances.',
};

/** The curve, its parameters and figures; says what to do where nothing is calibrated. */
export function calibrationSection({ calibration }: StudyFindings, folder: string, place: Place): string {
  if (calibration === null) {
    return section(
      'calibration',
      'Calibration',
      paragraph(
        `Nothing is calibrated yet: dances have no distances. Tie dances to feeders and save a calibration on the review page, or by combtone calibrate --study ${folder}.`,
      ),
    );
  }
  const { record } = calibration;
  const captions = Object.fromEntries(
    ['duration', 'tempo'].flatMap((name) =>
      Object.entries(captionOf).map(([part, text]) => [`${name}-${part}`, text]),
    ),
  );
  return section(
    'calibration',
    'Calibration',
    ...(record.duration === null ? [] : measureTables('Run duration (s)', record.duration)),
    ...(record.tempo === null ? [] : measureTables('Circuit time (s)', record.tempo)),
    list([...record.warnings, ...(record.duration?.warnings ?? []), ...(record.tempo?.warnings ?? [])]),
    place(recordFigures(record), captions),
    ...notLeftOut('Run duration', record.duration),
    ...notLeftOut('Circuit time', record.tempo),
  );
}

/** Why a measure has no figure of left-out feeders, where it was to have one. */
function notLeftOut(name: string, measure: MeasureRecord | null): string[] {
  const why = measure === null || measure.leaveOneOut.length === 0 ? null : whyNoneLeftOut(measure);
  return why === null ? [] : [paragraph(`${name}: ${why}`)];
}

function measureTables(name: string, measure: MeasureRecord): string[] {
  const short = (value: number, digits: number) => String(Number(value.toPrecision(digits)));
  const { scatter } = measure;
  const rows = [
    ['between bees', scatter.betweenBeesS],
    ['between dances of a bee', scatter.betweenDancesS],
    [`runs of a dance, at ${measure.nearestFeederM} m`, scatter.runsNearS],
    [`runs of a dance, at ${measure.farthestFeederM} m`, scatter.runsFarS],
  ] as const;
  return [
    tableHtml(
      `${name} on distance d (m): ${measure.curve}, ${measure.formula}`,
      ['parameter', 'estimate', 'standard error', 'unit'],
      measure.parameters.map((one) => [one.name, short(one.value, 5), short(one.standardError, 3), one.unit]),
    ),
    tableHtml(
      'Scatter, standard deviations with 95 % intervals',
      ['of', 's', 'from', 'to'],
      rows.map(([of, ranged]) =>
        ranged === null
          ? [of, 'not known', '', '']
          : [of, short(ranged.value, 3), short(ranged.low, 3), short(ranged.high, 3)],
      ),
    ),
  ];
}

/** Distances and bearings of all dances, those to unknown places first. */
export function dancesSection({ dances, calibration, level }: StudyFindings): string {
  if (dances.length === 0) return section('dances', 'Dances', paragraph('No dance has a run left.'));
  const header = [
    'dance',
    'bee',
    'treatment',
    'runs',
    'run s',
    'circuits per 15 s',
    'distance m',
    'from',
    'to',
    'bearing °',
    'from',
    'to',
    'remarks',
  ];
  const unknown = dances.filter(({ dance }) => dance.feederId === null);
  const fed = dances.filter(({ dance }) => dance.feederId !== null);
  const share = `${Math.round(100 * level)} %`;
  const without = calibration === null ? ' There is no calibration, so no distances.' : '';
  const by = hasBoth(calibration)
    ? ' Distances are from run duration and dance tempo together, where the remarks do not say otherwise.'
    : '';
  const others = otherTreatmentWords(unknown.flatMap(({ estimated }) => estimated?.row ?? []));
  return section(
    'dances',
    'Dances',
    others === null ? '' : paragraph(`${others}: ${otherTreatmentCaution}.`),
    tableHtml(
      `Dances to places that are no feeder; intervals of ${share}.${without}${by}`,
      header,
      unknown.map((finding) => danceCells(finding, calibration)),
      'dances.csv',
    ),
    tableHtml(
      `Dances to feeders; intervals of ${share}.${without === '' ? ' Most of them taught the calibration: their intervals do not test it.' : without}`,
      ['feeder', ...header],
      fed.map((finding) => [finding.dance.feederId!, ...danceCells(finding, calibration)]),
      'dances.csv',
    ),
  );
}

const hasBoth = (calibration: StudyFindings['calibration']): boolean =>
  calibration !== null && calibration.record.duration !== null && calibration.record.tempo !== null;

/** The note of an estimate without what the table's heading says of all. */
function estimateRemarks(note: string | null, both: boolean): string[] {
  const parts = note === null ? [] : note.split('; ');
  const special = parts.filter((part) => part !== FROM_BOTH);
  const single = both && !parts.includes(FROM_BOTH) && !parts.includes('from tempo');
  return single ? ['from duration alone', ...special] : special;
}

const FROM_BOTH = 'from duration and tempo';

function danceCells(
  { dance, estimated, bearing, flags }: DanceFinding,
  calibration: StudyFindings['calibration'],
): string[] {
  const row = estimated?.row;
  const remarks = [
    dance.runCount === 1 ? 'a single run: maybe none' : null,
    ...(row === undefined || row.distance_m === null
      ? [row?.note ?? null]
      : estimateRemarks(row.note, hasBoth(calibration))),
    row?.in_range === false ? 'out of the calibrated range' : null,
    ...(dance.feederConflict.length > 0 ? [`several feeders open: ${dance.feederConflict.join(', ')}`] : []),
    ...flags,
  ];
  return [
    dance.id,
    dance.beeId ?? '',
    dance.treatment ?? '',
    // Of the runs that the distance was estimated from, where there is one: a calibration may choose others.
    `${row?.used_runs ?? dance.usedRuns} of ${dance.runCount}`,
    cell(row?.mean_duration_s ?? dance.meanDurationS, 3),
    cell(row?.circuits_per_15s ?? dance.circuitsPer15s, 2),
    cell(row?.distance_m, 0),
    cell(row?.distance_low_m, 0),
    cell(row?.distance_high_m, 0),
    cell(bearing?.bearing_deg, 1),
    cell(bearing?.bearing_low_deg, 1),
    cell(bearing?.bearing_high_deg, 1),
    [...new Set(remarks.filter((remark) => remark !== null))].join('; '),
  ];
}

/** The foraging map with its regions; says why there is none. */
export function mapSection(
  view: StudyView,
  findings: StudyFindings,
  { map, why, leftOut }: StudyMap,
  place: Place,
): string {
  const reasons = new Map<string, number>();
  for (const { reason } of leftOut) reasons.set(reason, (reasons.get(reason) ?? 0) + 1);
  const left = list([...reasons].map(([reason, count]) => `${count} not mapped: ${reason}`));
  const site = siteOf(view.study.settings);
  if (map === null || site === null)
    return section('map', 'Map', paragraph(`There is no map: ${why}.`), left);
  return section(
    'map',
    'Map',
    place([mapFigure(site, map, findings.feeders)], {
      map: 'Where dances to places that are no feeder lead, each dance weighing one: smallest regions that hold 50, 80 and 95 % of the summed probability.',
    }),
    tableHtml(
      'Regions of the whole',
      ['share', 'area ha'],
      map.regions.map(({ level, areaM2 }) => [`${Math.round(100 * level)} %`, (areaM2 / 1e4).toFixed(2)]),
    ),
    left,
  );
}

/** Dances by the hour, clock and comb, reward, arrivals. */
export function daySection(view: StudyView, findings: StudyFindings, day: StudyDay, place: Place): string {
  const figures = dayFigures(day.dances, day.hours, day.arrivals, daySources(view, findings));
  return section(
    'day',
    'Over the day',
    ...day.clock.words.map(paragraph),
    tableHtml('By the hour of the day at the hive, all days together', hourHeader, day.hours.map(hourCells)),
    tableHtml(
      `Arrivals at feeders, after dances for them within ${day.windowMin} min`,
      arrivalHeader,
      arrivalCells(day.arrivals),
    ),
    list(day.cautions),
    place(figures, {
      'day-comb-angle':
        'Comb angles of dances, and lines of those that sun and feeder make expect on the day of the middle dance.',
      'day-activity': 'Dances an hour recorded; minutes recorded above the bars.',
      'day-tempo': 'Dance tempo.',
      'day-runs': 'Runs of a dance.',
      'day-return': 'Mean length of the return phases of a dance.',
      'day-dance-length': 'Length of dances.',
      'day-begging': 'Begging calls a minute while a dance lasts.',
      'day-latency': 'Arrivals of recruits after the start of the last dance for their feeder.',
    }),
  );
}
