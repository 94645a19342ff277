import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { registerStudy } from '../../src/cli/study.ts';
import { danceById } from '../../src/study/store/state.ts';
import { runCommand } from '../cli/run-command.ts';
import { detect, edit, knownRecording, studyFolders, twoDances } from './made-study.ts';

const newStudy = studyFolders();

test('feeders that dances name and feeders.csv does not have are told by status and check, and are no fault', async () => {
  const { folder, store } = await newStudy('named');
  detect(store, knownRecording(store).id, twoDances);
  const ids = ['hive-d0001', 'hive-d0002'];
  const toFeeder = (feederId: string | null) => {
    for (const id of ids) {
      const target = { id, version: danceById(store, id)!.version };
      edit(store, { kind: 'dance', target, changes: { feederId } });
    }
  };
  const told = async (command: string) => runCommand(registerStudy, ['study', command, '--study', folder]);
  const line = 'Feeders that dances name and feeders.csv does not have: elm (2 dances)';
  toFeeder(null);
  for (const command of ['status', 'check']) expect(await told(command)).not.toContain('Feeders that');
  toFeeder('elm');
  for (const command of ['status', 'check']) expect((await told(command)).split('\n')).toContain(line);
  expect(await told('check')).toMatch(/: sound, 1 recording/);
  await writeFile(join(folder, 'feeders.csv'), 'feeder_id,distance_m\nelm,300\n');
  for (const command of ['status', 'check']) expect(await told(command)).not.toContain('Feeders that');
});
