import { InputError } from '../input-error.ts';
import { type ByteSource, openByteSource, readBytes, soundFileWanted } from './byte-source.ts';
import { compressedSound } from './compressed/decoded-blocks.ts';
import { isFloat } from './encodings.ts';
import { fileKind, isReadFormat, kindBytes, type SoundFormat } from './file-kind.ts';
import { openAiff } from './open-aiff.ts';
import { openWave } from './open-wave.ts';
import { pcmSound } from './pcm-recording.ts';
import { sampleNotes } from './sample-notes.ts';
import type { FrameRange, SoundContents } from './sound-contents.ts';
import { nameStartTime, parseStartTime } from './start-time.ts';
import type { BlockOptions, OpenOptions, Recording, RecordingInfo, StartTimeSource } from './types.ts';

const defaultBlockFrames = 65_536;

/**
 * Opens a recording and reads its header; samples are read as they are asked for, in bounded memory:
 * - WAVE, RF64, BW64, Wave64 (PCM of 8, 16, 24, 32 bits, float of 32, 64 bits; plain or extensible)
 * - AIFF, AIFF-C (the same, uncompressed)
 * - FLAC, Ogg Vorbis, MP3
 *
 * Files that were not finished properly are read as far as they go, with a warning in `info.warnings`; so are
 * files still being written, as far as they went at opening. The start time is the bext chunk's, else the file
 * name's, else the option's.
 *
 * @throws InputError for a missing or unreadable file, one that is in none of these formats or has no samples,
 * or a start time option that is no time
 */
export async function openRecording(path: string, options: OpenOptions = {}): Promise<Recording> {
  const optionTime = options.startTime === undefined ? null : parseStartTime(options.startTime);
  const source = await openByteSource(path);
  try {
    return await recordingOf(source, optionTime);
  } catch (error) {
    await source.close();
    throw error;
  }
}

/** As `openRecording`, from bytes that are open already. */
export async function recordingOf(source: ByteSource, optionTime: string | null): Promise<Recording> {
  const contents = await contentsOf(source, await requireFormat(source));
  const { encoding, channelCount, sampleRateHz, frameCount } = contents;
  const start = chooseStartTime(contents.bextTime, nameStartTime(source.path), optionTime);
  const info: RecordingInfo = {
    path: source.path,
    format: contents.format,
    sampleRateHz,
    channelCount,
    frameCount,
    durationS: frameCount / sampleRateHz,
    encoding,
    startTime: start.time,
    startTimeSource: start.from,
    warnings: [...contents.warnings, ...start.warnings],
  };
  const notes = sampleNotes();
  let grownTo = source.byteLength;

  const blocks = (channel: number, blockOptions: BlockOptions = {}): AsyncGenerator<Float32Array> => {
    requireChannel(info, channel);
    const look = isFloat(encoding)
      ? (startFrame: number, samples: Float32Array) => notes.look(channel, startFrame, samples)
      : null;
    const range = frameRange(blockOptions, frameCount);
    return thenDo(contents.blocks(channel - 1, range, look), async () => {
      grownTo = Math.max(grownTo, await source.sizeNow());
    });
  };
  const lines = () => [...growth(source.byteLength, grownTo), ...contents.notes(), ...notes.lines()];
  return { info, blocks, notes: lines, close: once(source.close) };
}

async function requireFormat(source: ByteSource): Promise<SoundFormat> {
  const head = await readBytes(source, 0, kindBytes);
  const kind = fileKind(head);
  if (isReadFormat(kind)) return kind;
  const found =
    source.byteLength === 0
      ? 'an empty file'
      : kind !== null
        ? `what looks like ${kind}`
        : head.byteLength < 12
          ? `a file of ${head.byteLength} bytes, less than a header`
          : 'a file that begins like no sound file';
  throw new InputError({ file: source.path, found, wanted: soundFileWanted });
}

/** Reads what decodes a compressed format only where a file is in it: most recordings are WAVE, and start the sooner. */
async function contentsOf(source: ByteSource, format: SoundFormat): Promise<SoundContents> {
  switch (format) {
    case 'AIFF':
      return pcmSound(await openAiff(source));
    case 'FLAC': {
      const { openFlac } = await import('./compressed/open-flac.ts');
      return compressedSound(await openFlac(source));
    }
    case 'Ogg Vorbis': {
      const { openVorbis } = await import('./compressed/open-vorbis.ts');
      return compressedSound(await openVorbis(source));
    }
    case 'MP3': {
      const { openMp3 } = await import('./compressed/open-mp3.ts');
      return compressedSound(await openMp3(source));
    }
    default:
      return pcmSound(await openWave(source, format));
  }
}

/** Passes blocks on and does something when the last has been taken. */
async function* thenDo(
  blocks: AsyncGenerator<Float32Array>,
  action: () => Promise<void>,
): AsyncGenerator<Float32Array> {
  yield* blocks;
  await action();
}

function growth(atOpening: number, now: number): string[] {
  if (now <= atOpening) return [];
  return [
    `the file is still being written (${atOpening} bytes when it was opened, ${now} bytes later): ` +
      'read as far as it went when it was opened',
  ];
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

function frameRange(options: BlockOptions, frameCount: number): FrameRange {
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
