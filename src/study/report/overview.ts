import { callKindNames } from '../../dance/call-kinds/registry.ts';
import { currentDetection } from '../store/detections.ts';
import { allRecordings } from '../store/recordings.ts';
import type { StoredSound } from '../store/rows.ts';
import { stateNow } from '../store/state.ts';
import type { StudyView } from '../study-view.ts';
import type { Status } from '../tables.ts';
import { cell, paragraph, section, tableHtml } from './html.ts';

const statuses: readonly Status[] = ['found', 'accepted', 'rejected', 'added'];

const countsOf = (sounds: readonly StoredSound[]) =>
  statuses.map((status) => String(sounds.filter((sound) => sound.status === status).length));

/** What the study has: recordings, and sounds found, accepted, rejected and added. */
export function recordingsSection({ study }: StudyView): string {
  const sounds = [...stateNow(study.store).sounds.values()];
  const recordings = allRecordings(study.store);
  if (recordings.length === 0)
    return section('recordings', 'Recordings', paragraph('The study has no recordings yet.'));
  const rows = recordings.map((recording) => {
    const own = sounds.filter(({ recordingId }) => recordingId === recording.id);
    const detection = currentDetection(study.store, recording.id);
    return [
      recording.path,
      recording.startTime ?? 'not known',
      cell(recording.durationS / 60, 1),
      String(recording.channelCount),
      String(own.filter(({ kind, status }) => kind === 'train' && status !== 'rejected').length),
      String(own.filter(({ kind, status }) => kind !== 'train' && status !== 'rejected').length),
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
    const own = sounds.filter((sound) => sound.kind === kind);
    if (own.length === 0) return [];
    const reviewed = own.filter(({ status, edited }) => status !== 'found' || edited).length;
    return [
      [
        kind === 'train' ? 'waggle runs' : kind,
        ...countsOf(own),
        `${Math.round((100 * reviewed) / own.length)} %`,
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
