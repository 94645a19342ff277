import { InputError } from '../input-error.ts';
import { bytesPerSample, formatCode, subformatTail } from './encodings.ts';
import type { WaveEncoding } from './types.ts';

/** What a `fmt ` chunk says, checked. */
export interface WaveFormat {
  readonly encoding: WaveEncoding;
  readonly channelCount: number;
  readonly sampleRateHz: number;
  /** Bytes of one frame. */
  readonly frameBytes: number;
}

/** Most bytes of a `fmt ` chunk that `parseFormat` looks at. */
export const formatBytes = 40;

/**
 * Reads the body of a `fmt ` chunk: plain (format 1 or 3) or extensible (0xFFFE with a subformat GUID).
 * A PCM sample of fewer bits than its bytes hold stands in the upper bits (Microsoft, Multiple Channel Audio
 * Data and WAVE Files, 2007), so 20 bits are read as 24, and 12 as 16.
 *
 * @param path named in errors
 * @throws InputError for a short chunk, another format code, zero channels, zero rate, a sample size that is
 * not read, or a block align that disagrees with channels and bits
 */
export function parseFormat(path: string, fmt: DataView): WaveFormat {
  const wrong = (found: string, wanted: string) =>
    new InputError({ file: path, place: 'fmt chunk', found, wanted });
  if (fmt.byteLength < 16)
    throw wrong(`${fmt.byteLength} bytes`, 'at least 16 bytes: a header not cut short');

  const code = sampleCode(fmt, wrong);
  const channelCount = fmt.getUint16(2, true);
  const sampleRateHz = fmt.getUint32(4, true);
  const frameBytes = fmt.getUint16(12, true);
  const bits = fmt.getUint16(14, true);
  if (channelCount === 0) throw wrong('0 channels', 'one channel or more');
  if (sampleRateHz === 0) throw wrong('a sample rate of 0 Hz', 'a sample rate above 0 Hz');

  const encoding = encodingOf(code, bits);
  if (encoding === null) {
    throw wrong(
      `${code === formatCode.float ? 'float' : 'PCM'} samples of ${bits} bits`,
      'PCM of 8, 16, 24 or 32 bits, or float of 32 or 64 bits',
    );
  }
  const expected = channelCount * bytesPerSample[encoding];
  if (frameBytes !== expected) {
    throw wrong(
      `a block align of ${frameBytes} bytes`,
      `${expected} bytes, as ${channelCount} channels of ${bits} bits take`,
    );
  }
  return { encoding, channelCount, sampleRateHz, frameBytes };
}

type Wrong = (found: string, wanted: string) => InputError;

/** 1 for PCM, 3 for float; the extensible header is looked through. */
function sampleCode(fmt: DataView, wrong: Wrong): number {
  const wanted = 'PCM (0x0001) or float (0x0003), plain or extensible (0xFFFE)';
  let code = fmt.getUint16(0, true);
  if (code === formatCode.extensible) {
    if (fmt.byteLength < formatBytes) {
      throw wrong(`an extensible header of ${fmt.byteLength} bytes`, `at least ${formatBytes} bytes`);
    }
    const isPlainCode = subformatTail.every((byte, index) => fmt.getUint8(26 + index) === byte);
    if (!isPlainCode) throw wrong(`subformat ${guidText(fmt, 24)}`, wanted);
    code = fmt.getUint16(24, true);
  }
  if (code !== formatCode.pcm && code !== formatCode.float) {
    const name = otherCodes.get(code);
    const hex = code.toString(16).toUpperCase().padStart(4, '0');
    throw wrong(`format code 0x${hex}${name === undefined ? '' : ` (${name})`}`, wanted);
  }
  return code;
}

const otherCodes: ReadonlyMap<number, string> = new Map([
  [0x0002, 'Microsoft ADPCM'],
  [0x0006, 'A-law'],
  [0x0007, 'mu-law'],
  [0x0011, 'IMA ADPCM'],
  [0x0050, 'MPEG layer 1 or 2'],
  [0x0055, 'MP3'],
]);

function encodingOf(code: number, bits: number): WaveEncoding | null {
  if (code === formatCode.float) return bits === 32 ? 'float32' : bits === 64 ? 'float64' : null;
  if (bits < 1 || bits > 32) return null;
  return (['pcm8', 'pcm16', 'pcm24', 'pcm32'] as const)[Math.ceil(bits / 8) - 1]!;
}

function guidText(view: DataView, at: number): string {
  const hex = (value: number, digits: number) => value.toString(16).toUpperCase().padStart(digits, '0');
  const bytes = (from: number, to: number) => {
    let text = '';
    for (let index = from; index < to; index++) text += hex(view.getUint8(at + index), 2);
    return text;
  };
  const first = hex(view.getUint32(at, true), 8);
  const second = hex(view.getUint16(at + 4, true), 4);
  const third = hex(view.getUint16(at + 6, true), 4);
  return `${first}-${second}-${third}-${bytes(8, 10)}-${bytes(10, 16)}`;
}
