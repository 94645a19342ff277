import { withOffset } from '../../bearing/local-time.ts';
import { callKindNames } from '../../dance/call-kinds/registry.ts';
import { currentDetection } from '../store/detections.ts';
import { type SoundCount, soundCounts } from '../store/queries.ts';
import { allRecordings } from '../store/recordings.ts';
import type { StudyView } from '../study-view.ts';
import type { Status } from '../tables.ts';
import { cell } from '../text-table.ts';
import { paragraph, section, tableHtml } from './html.ts';

const statuses: readonly Status[] = ['found', 'accepted', 'rejected', 'added'];

/** Sounds of those counts that a question holds for. */
const numberOf = (counts: readonly SoundCount[], holds: (count: SoundCount) => boolean = () => true) =>
  counts.filter(holds).reduce((sum, { sounds }) => sum + sounds, 0);

/** What the study has: recordings, and sounds found, accepted, rejected and added. */
export function recordingsSection({ study }: StudyView): string {
  const counts = soundCounts(study.store);
  const recordings = allRecordings(study.store);
  if (recordings.length === 0)
    return section('recordings', 'Recordings', paragraph('The study has no recordings yet.'));
  const rows = recordings.map((recording) => {
    const own = counts.filter(({ recordingId }) => recordingId === recording.id);
    const detection = currentDetection(study.store, recording.id);
    return [
      recording.path,
      recording.startTime === null
        ? 'not known'
        : withOffset(recording.startTime, study.settings.hive.timeZone),
      cell(recording.durationS / 60, 1),
      String(recording.channelCount),
      String(numberOf(own, ({ kind, status }) => kind === 'train' && status !== 'rejected')),
      String(numberOf(own, ({ kind, status }) => kind !== 'train' && status !== 'rejected')),
      detection === null ? 'not yet' : detection.combtoneVersion,
      recording.sha256.slice(0, 12),
    ];
  });
  const header = [
    'recording',
    'start',
    'minutes',
    'channels',
    'runs',
    'calls',
    'detected by combtone',
    'SHA-256 begins',
  ];
  const kinds = ['train', ...callKindNames] as const;
  const kindRows = kinds.flatMap((kind) => {
    const own = counts.filter((count) => count.kind === kind);
    if (own.length === 0) return [];
    const reviewed = own.reduce((sum, count) => sum + count.reviewed, 0);
    return [
      [
        kind === 'train' ? 'waggle runs' : kind,
        ...statuses.map((status) => String(numberOf(own, (count) => count.status === status))),
        `${Math.round((100 * reviewed) / numberOf(own))} %`,
      ],
    ];
  });
  return section(
    'recordings',
    'Recordings and review',
    tableHtml('Recordings. Runs and calls are those not rejected.', header, rows, 'recordings.csv'),
    tableHtml(
      'Sounds by what became of them. Found: by the detector, not reviewed. Accepted, rejected: reviewed. Added: by a reviewer, where the detector had found nothing.',
      ['sounds', ...statuses, 'reviewed'],
      kindRows,
    ),
  );
}
