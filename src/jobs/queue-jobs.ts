import { createHash } from 'node:crypto';
import { isAbsolute, relative, resolve, sep } from 'node:path';
import { promisify } from 'node:util';
import { gunzip, gzip } from 'node:zlib';
import { z } from 'zod';
import { InputError } from '../input-error.ts';
import type { RecordingOutcome, RecordingTask } from '../study/detect-all.ts';
import { foundText, readFoundText } from '../study/found-record.ts';
import { combtoneVersion } from '../study/version.ts';

const packed = promisify(gzip);
const unpacked = promisify(gunzip);

const MOST_RESULT_BYTES = 1 << 28;

/** A recording to be searched by a worker: what it needs to know, and nothing of the machine that asks. */
export const jobSchema = z.strictObject({
  version: z.string(),
  /** From the root that submitter and worker share, with forward slashes. */
  path: z.string().min(1),
  /** Of the recording's bytes: a worker with another root, or an older copy, must not answer for them. */
  sha256: z.string().regex(/^[0-9a-f]{64}$/),
  settings: z.strictObject({
    bandLowHz: z.number(),
    bandHighHz: z.number(),
    leastConfidence: z.number(),
    leastCallConfidence: z.number(),
  }),
  channels: z.array(z.number().int().min(1)),
  startTime: z.string().nullable(),
});
export type DetectJob = z.output<typeof jobSchema>;

/** What a worker answers. */
export const answerSchema = z.discriminatedUnion('ok', [
  /** `found`: a record, compressed, in base 64. */
  z.strictObject({ ok: z.literal(true), found: z.string() }),
  z.strictObject({
    ok: z.literal(false),
    badInput: z.strictObject({
      file: z.string(),
      place: z.string().optional(),
      found: z.string(),
      wanted: z.string(),
    }),
  }),
]);
export type DetectAnswer = z.output<typeof answerSchema>;

/** @throws InputError for a recording that does not lie in the root */
export function jobOf(task: RecordingTask, sha256: string, root: string): DetectJob {
  const path = relative(resolve(root), resolve(task.path)).split(sep).join('/');
  if (isAbsolute(path) || path === '..' || path.startsWith('../')) {
    throw new InputError({
      file: task.path,
      found: `a recording that does not lie in ${root}`,
      wanted: '--root with the folder of all recordings, which every worker has too',
    });
  }
  const { bandLowHz, bandHighHz, leastConfidence, leastCallConfidence } = task.settings;
  return {
    version: combtoneVersion,
    path,
    sha256,
    settings: { bandLowHz, bandHighHz, leastConfidence, leastCallConfidence },
    channels: [...task.channels],
    startTime: task.startTime ?? null,
  };
}

/** The same recording with the same settings is the same job, however often it is submitted. */
export function jobId(job: DetectJob): string {
  return `d${jobHash(job)}`;
}

function jobHash(job: DetectJob): string {
  return createHash('sha256')
    .update(JSON.stringify(jobSchema.parse(job)))
    .digest('hex');
}

/** Where a worker finds the recording of a job. @throws Error when the path leads out of the root */
export function pathInRoot(root: string, path: string): string {
  const whole = resolve(root, path);
  if (isAbsolute(path) || !whole.startsWith(resolve(root) + sep))
    throw new Error(`${path} leads out of the root`);
  return whole;
}

export async function answerOf(job: DetectJob, outcome: RecordingOutcome): Promise<DetectAnswer> {
  if (outcome.ok) {
    const text = foundText({ sha256: job.sha256, settingsHash: jobHash(job) }, outcome.found);
    return { ok: true, found: (await packed(text)).toString('base64') };
  }
  if (!(outcome.error instanceof InputError)) throw outcome.error;
  return { ok: false, badInput: outcome.error.badInput };
}

/** What a worker answered, with the recording called as the submitter calls it. @throws Error for what is no answer */
export async function outcomeOfAnswer(
  job: DetectJob,
  path: string,
  given: unknown,
): Promise<RecordingOutcome> {
  const answer = answerSchema.parse(given);
  if (!answer.ok) {
    const { place, found, wanted } = answer.badInput;
    return {
      ok: false,
      error: new InputError({ file: path, ...(place === undefined ? {} : { place }), found, wanted }),
    };
  }
  const text = await unpacked(Buffer.from(answer.found, 'base64'), { maxOutputLength: MOST_RESULT_BYTES });
  const found = readFoundText(path, text.toString(), { sha256: job.sha256, settingsHash: jobHash(job) });
  return { ok: true, found: { ...found, info: { ...found.info, path } } };
}
