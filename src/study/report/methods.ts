import type { MeasureRecord } from '../calibration-record.ts';
import { counted } from '../counted.ts';
import { currentDetection } from '../store/detections.ts';
import { soundCounts } from '../store/queries.ts';
import { allRecordings } from '../store/recordings.ts';
import type { SearchSettings } from '../study-detect.ts';
import type { StudyFindings } from '../study-findings.ts';
import type { StudyView } from '../study-view.ts';
import { combtoneVersion } from '../version.ts';
import { paragraph, section } from './html.ts';

/** A paragraph as a paper's methods want it: versions, settings, calibration, counts. */
export function methodsSection(view: StudyView, findings: StudyFindings): string {
  const { settings } = view.study;
  const { calibration, level } = findings;
  return section(
    'methods',
    'Methods',
    paragraph([soundWords(view), reviewWords(view)].join(' ')),
    paragraph(
      calibration === null
        ? 'No calibration was saved: no distance is given.'
        : distanceWords(calibration, level),
    ),
    paragraph(
      settings.comb.orientation === 'vertical'
        ? `Bearings: solar azimuth at the middle of each dance, by astronomy-engine, plus the comb angle clockwise from straight up; ${directionWords(findings)}. Places by geodesics on WGS84; regions of 50, 80 and 95 % are those of highest density of the posterior of distance times that of direction.`
        : 'The comb is horizontal: the run points to the goal itself.',
    ),
    paragraph(`This report was made by combtone ${combtoneVersion}.`),
  );
}

function soundWords({ study }: StudyView): string {
  const recordings = allRecordings(study.store);
  const detections = recordings.flatMap(({ id }) => currentDetection(study.store, id) ?? []);
  const hours = recordings.reduce((sum, { durationS }) => sum + durationS, 0) / 3600;
  const versions = [...new Set(detections.map(({ combtoneVersion: version }) => version))].sort();
  const bands = [
    ...new Set(
      detections.map(({ settings }) => {
        const { bandLowHz, bandHighHz, leastConfidence } = settings as Partial<SearchSettings>;
        return bandLowHz === undefined
          ? 'settings not told'
          : `${bandLowHz} to ${bandHighHz} Hz, confidence of at least ${leastConfidence}`;
      }),
    ),
  ].sort();
  const hashes = [...new Set(detections.map(({ settingsHash }) => settingsHash.slice(0, 12)))].sort();
  if (detections.length === 0)
    return `${counted(recordings.length, 'recording')} (${hours.toFixed(1)} h); nothing was detected in them yet.`;
  return (
    `Waggle runs and calls were detected in ${detections.length} of ${counted(recordings.length, 'recording')} (${hours.toFixed(1)} h) ` +
    `by combtone ${versions.join(', ')} (${bands.join('; ')}; settings ${hashes.join(', ')}). ` +
    'The duration of a run is the offset of its last pulse less the onset of its first; of a dance, the mean of its runs without the first and the last (all, where fewer than four).'
  );
}

function reviewWords({ study }: StudyView): string {
  const trains = soundCounts(study.store).filter(({ kind }) => kind === 'train');
  const count = (status: string | null) =>
    trains
      .filter((train) => status === null || train.status === status)
      .reduce((sum, { sounds }) => sum + sounds, 0);
  const reviewers = study.store
    .prepare("SELECT DISTINCT reviewer FROM events WHERE kind NOT IN ('detect', 'import') ORDER BY 1")
    .pluck()
    .all() as string[];
  const persons = reviewers.length === 1 ? 'one person' : `${reviewers.length} persons`;
  const by =
    count(null) === count('found')
      ? 'No run has been accepted or rejected by a reviewer'
      : `They were reviewed by ${persons}`;
  return `${by}: of ${counted(count(null), 'run')} ${count('found')} are as found, ${count('accepted')} were accepted, ${count('rejected')} rejected and ${count('added')} added.`;
}

function distanceWords({ saved, record }: NonNullable<StudyFindings['calibration']>, level: number): string {
  const measures = [
    ...(record.duration === null ? [] : [measureWords('run duration (s)', record.duration)]),
    ...(record.tempo === null ? [] : [measureWords('circuit time (s)', record.tempo)]),
  ];
  return (
    `Distances by the calibration “${saved.name}” (saved ${saved.at.slice(0, 10)}; data SHA-256 ${record.dataSha256.slice(0, 12)}, seed ${record.settings.seed}): ` +
    `${measures.join('; ')}. Estimates are medians of the posterior under a flat prior, intervals of equal tails hold ${Math.round(100 * level)} %.`
  );
}

function measureWords(
  name: string,
  { curve, formula, parameters, counts, nearestFeederM, farthestFeederM }: MeasureRecord,
): string {
  const values = parameters
    .map(({ name: parameter, value, standardError, unit }) =>
      `${parameter} = ${Number(value.toPrecision(4))} ± ${Number(standardError.toPrecision(2))} ${unit}`.trim(),
    )
    .join(', ');
  return (
    `${name} on distance d (m), ${curve}, ${formula}, ${values} (± standard error), mixed-effects fit with bees and dances nested, ` +
    `n = ${counted(counts.dances, 'dance')} (${counted(counts.runs, 'run')}) by ${counted(counts.bees, 'bee')} to ${counted(counts.feeders, 'feeder')}, ${nearestFeederM} to ${farthestFeederM} m`
  );
}

function directionWords({ bearings }: StudyFindings): string {
  const calibration = bearings?.directionCalibration ?? null;
  if (calibration === null) {
    return `no directional calibration (${counted(bearings?.knownDances ?? 0, 'dance')} to feeders of known bearing), so that systematic misdirection is in no interval`;
  }
  return `misdirection and the scatter of dances learnt from ${calibration.dances} dances to feeders of known bearing`;
}
