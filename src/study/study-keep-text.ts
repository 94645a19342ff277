import { oneLine } from '../input-error.ts';
import { counted } from './counted.ts';
import type { StudyBackup } from './study-backup.ts';
import type { StudyCheck } from './study-check.ts';
import { textTable } from './text-table.ts';
import { unknownFeedersWords } from './unknown-feeders.ts';

const MOST_LISTED = 20;

/** What a check found, for people to read. */
export function checkText(check: StudyCheck): string {
  const { folder, sound, parts, recordings, counts, copies } = check;
  const rows = parts.map(({ part, looked, faults }) => [
    part,
    looked,
    faults.length === 0 ? 'sound' : `${faults.length} ${faults.length === 1 ? 'FAULT' : 'FAULTS'}`,
  ]);
  const of = (state: string) => recordings.filter((recording) => recording.state === state);
  const missing = of('missing');
  const sections = [
    `Study ${folder}: ${sound ? 'sound' : 'NOT SOUND'}${counts === null ? '' : `, ${countsWords(counts)}`}`,
    textTable([['part', 'looked at', 'found'], ...rows]),
    listed(
      'Faults',
      parts.flatMap(({ part, faults }) => faults.map((fault) => `${part}: ${fault}`)),
    ),
    listed(
      `Missing: ${missing.length} of ${recordings.length} recordings, there or nearby`,
      missing.map(({ path }) => path),
    ),
    listed(
      'Moved; combtone study status takes it down',
      of('moved').map(({ path, at }) => `${path}: now ${at}`),
    ),
    oneLine(unknownFeedersWords(check.unknownFeeders)),
    listed('Copies of the store, made before it was changed', copies),
    sound
      ? ''
      : 'What to do: docs/faults.md. Change nothing in the folder before you have a copy of all of it.',
  ];
  return sections.filter((text) => text !== '').join('\n\n');
}

function listed(head: string, lines: readonly string[]): string {
  if (lines.length === 0) return '';
  const more = lines.length > MOST_LISTED ? [`and ${lines.length - MOST_LISTED} more: --json has all`] : [];
  return [`${head}:`, ...[...lines.slice(0, MOST_LISTED), ...more].map((line) => `  ${oneLine(line)}`)].join(
    '\n',
  );
}

/** What was copied, for people to read. */
export function backupText({ folder, files, counts }: StudyBackup): string {
  return (
    `Copied and verified: ${folder}, with ${files.join(', ')}\n` +
    `${countsWords(counts)}. It is a study itself; recordings are not in it: keep copies of them too.`
  );
}

function countsWords(counts: Readonly<Record<string, number>>): string {
  const { recordings = 0, sounds = 0, dances = 0, events = 0 } = counts;
  const named = { recording: recordings, sound: sounds, dance: dances, event: events };
  return Object.entries(named)
    .map(([name, count]) => counted(count, name))
    .join(', ');
}
