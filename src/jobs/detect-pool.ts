import { Piscina } from 'piscina';
import type { SegmentSearch } from '../dance/detect.ts';
import { detectInSegment, type SegmentFindings } from '../dance/detect-segment.ts';
import { InputError } from '../input-error.ts';
import type { RecordingOutcome } from '../study/detect-all.ts';
import type { WholeRecordingResult, WholeRecordingTask } from './recording-worker.ts';
import type { SearchTask } from './search-worker.ts';

/** Threads that search for one that asks. */
export interface DetectPool {
  /** Segments that the thread that asks has read. */
  readonly segmentSearch: SegmentSearch;
  /** A whole recording, read by the thread that searches it. */
  readonly detectWhole: (task: WholeRecordingTask) => Promise<RecordingOutcome>;
  /** Ends the threads; what they were at is lost, and whoever waits for it is told so. */
  readonly close: () => Promise<void>;
}

// Threads run what is built: from the sources, as in tests, that is in dist.
const built = import.meta.url.endsWith('.ts') ? '../../dist/jobs/' : './';
const workerFile = (name: string) => new URL(`${built}${name}`, import.meta.url).href;

const IDLE_MS = 60_000;
/** For each thread: one that it searches, and one that is ready when it is done. */
const SEGMENTS_PER_THREAD = 2;

export interface DetectPoolOptions {
  /** Threads beside the one that asks; each is started when there is work for it. */
  readonly threads: number;
  /** Whether the thread that asks searches segments too, where the others have enough to do. */
  readonly searchesToo: boolean;
}

export function detectPool({ threads, searchesToo }: DetectPoolOptions): DetectPool {
  const pool = new Piscina({ minThreads: 0, maxThreads: threads, idleTimeout: IDLE_MS, recordTiming: false });
  const enough = SEGMENTS_PER_THREAD * threads;
  let underWay = 0;
  const search: SegmentSearch['search'] = (segment, settings) => {
    if (searchesToo && underWay >= enough) return detectInSegment(segment, settings);
    const task: SearchTask = { segment, settings };
    const transferList = [segment.samples.buffer as ArrayBuffer];
    underWay++;
    const findings: Promise<SegmentFindings> = pool.run(task, {
      filename: workerFile('search-worker.js'),
      transferList,
    });
    return findings.finally(() => underWay--);
  };
  const detectWhole = async (task: WholeRecordingTask): Promise<RecordingOutcome> => {
    const result: WholeRecordingResult = await pool.run(task, {
      filename: workerFile('recording-worker.js'),
    });
    return result.ok ? result : { ok: false, error: new InputError(result.badInput) };
  };
  return {
    // One that is searched here and one that is being read come on top.
    segmentSearch: { search, atOnce: enough + 2 },
    detectWhole,
    close: () => pool.destroy(),
  };
}
