import { InputError } from '../input-error.ts';
import { frameBlocks } from './blocks.ts';
import { type ByteSource, openByteSource, readBytes } from './byte-source.ts';
import { pieceConverter } from './convert.ts';
import { isFloat } from './encodings.ts';
import { fileKind, kindBytes } from './file-kind.ts';
import { waveContents } from './open-wave.ts';
import { sampleNotes } from './sample-notes.ts';
import { nameStartTime, parseStartTime } from './start-time.ts';
import type { BlockOptions, OpenOptions, Recording, RecordingInfo, StartTimeSource } from './types.ts';

const defaultBlockFrames = 65_536;

/**
 * Opens a WAVE file (PCM of 8, 16, 24, 32 bits, float of 32, 64 bits; plain or extensible) and reads its
 * header; samples are read as they are asked for. Files that were not finished properly are read as far as
 * they go, with a warning in `info.warnings`. The start time is the bext chunk's, else the file name's, else
 * the option's.
 *
 * @throws InputError for a missing or unreadable file, one that is not a WAVE file or has no samples, or a
 * start time option that is no time
 */
export async function openRecording(path: string, options: OpenOptions = {}): Promise<Recording> {
  const optionTime = options.startTime === undefined ? null : parseStartTime(options.startTime);
  const source = await openByteSource(path);
  try {
    await requireWave(source);
    return await waveRecording(source, optionTime);
  } catch (error) {
    await source.close();
    throw error;
  }
}

async function requireWave(source: ByteSource): Promise<void> {
  const head = await readBytes(source, 0, kindBytes);
  const kind = fileKind(head);
  if (kind === 'WAVE') return;
  const found =
    source.byteLength === 0
      ? 'an empty file'
      : kind !== null
        ? `what looks like ${kind}`
        : head.byteLength < 12
          ? `a file of ${head.byteLength} bytes, less than a header`
          : 'a file that does not begin with RIFF and WAVE';
  throw new InputError({ file: source.path, found, wanted: 'a WAVE file (PCM or float)' });
}

async function waveRecording(source: ByteSource, optionTime: string | null): Promise<Recording> {
  const { format, extent, bextTime, warnings } = await waveContents(source);
  const { encoding, channelCount, sampleRateHz, frameBytes } = format;
  const { frameCount, soundAt } = extent;
  const start = chooseStartTime(bextTime, nameStartTime(source.path), optionTime);
  const info: RecordingInfo = {
    path: source.path,
    sampleRateHz,
    channelCount,
    frameCount,
    durationS: frameCount / sampleRateHz,
    encoding,
    startTime: start.time,
    startTimeSource: start.from,
    warnings: [...warnings, ...start.warnings],
  };
  const notes = sampleNotes();

  const blocks = (channel: number, blockOptions: BlockOptions = {}): AsyncGenerator<Float32Array> => {
    requireChannel(info, channel);
    const convert = pieceConverter({ encoding, channelCount, channelIndex: channel - 1 });
    const look = isFloat(encoding)
      ? (startFrame: number, samples: Float32Array) => notes.look(channel, startFrame, samples)
      : null;
    return frameBlocks({ source, soundAt, frameBytes }, frameRange(blockOptions, frameCount), convert, look);
  };
  return { info, blocks, notes: notes.lines, close: once(source.close) };
}

/** bext before file name before option; a given option that is passed over is worth a warning. */
function chooseStartTime(bextTime: string | null, nameTime: string | null, optionTime: string | null) {
  const warnings: string[] = [];
  const candidates: readonly (readonly [StartTimeSource, string | null])[] = [
    ['bext', bextTime],
    ['file name', nameTime],
    ['option', optionTime],
  ];
  const [from, time] = candidates.find(([, candidate]) => candidate !== null) ?? [null, null];
  if (optionTime !== null && from !== 'option' && optionTime !== time) {
    const place = from === 'bext' ? 'bext chunk' : 'file name';
    warnings.push(
      `start time ${time} is taken from the ${place}; the start time given, ${optionTime}, is not used`,
    );
  }
  return { from, time, warnings };
}

function requireChannel({ channelCount, path }: RecordingInfo, channel: number): void {
  if (Number.isInteger(channel) && channel >= 1 && channel <= channelCount) return;
  throw new InputError({
    file: '--channel',
    found: String(channel),
    wanted:
      channelCount === 1
        ? `1, the only channel of ${path}`
        : `a channel from 1 to ${channelCount} of ${path}`,
  });
}

function frameRange(options: BlockOptions, frameCount: number) {
  const { blockFrames = defaultBlockFrames, startFrame = 0, endFrame = frameCount } = options;
  const isWhole = [blockFrames, startFrame, endFrame].every(
    (value) => Number.isSafeInteger(value) && value >= 0,
  );
  if (!isWhole || blockFrames === 0) {
    throw new RangeError(`frames must be whole numbers from 0, blocks from 1: ${JSON.stringify(options)}`);
  }
  return { blockFrames, startFrame, endFrame: Math.min(endFrame, frameCount) };
}

function once(action: () => Promise<void>): () => Promise<void> {
  let done: Promise<void> | undefined;
  return () => {
    done ??= action();
    return done;
  };
}
