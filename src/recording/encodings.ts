import type { WaveEncoding } from './types.ts';

/** Bytes one sample of one channel takes. */
export const bytesPerSample: Readonly<Record<WaveEncoding, number>> = {
  pcm8: 1,
  pcm16: 2,
  pcm24: 3,
  pcm32: 4,
  float32: 4,
  float64: 8,
};

/** Whether samples are stored as IEEE 754 numbers, whose full scale is ±1 by custom alone. */
export function isFloat(encoding: WaveEncoding): boolean {
  return encoding === 'float32' || encoding === 'float64';
}

/** WAVE format codes (Microsoft, Multimedia Programming Interface and Data Specifications 1.0, 1991). */
export const formatCode = { pcm: 0x0001, float: 0x0003, extensible: 0xfffe } as const;

/**
 * The last 14 bytes of the extensible header's subformat GUID, xxxx0000-0000-0010-8000-00AA00389B71, whose
 * first two bytes are a plain format code.
 */
export const subformatTail: readonly number[] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];
