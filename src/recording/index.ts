export type { SoundFormat } from './file-kind.ts';
export { openRecording } from './open-recording.ts';
export { type SoundCheck, type SoundChecker, soundChecker } from './sound-check.ts';
export { parseStartTime } from './start-time.ts';
export type {
  BlockOptions,
  OpenOptions,
  Recording,
  RecordingInfo,
  StartTimeSource,
  WaveEncoding,
} from './types.ts';
export { writeExcerpt } from './wave-excerpt.ts';
export type { WaveMark } from './wave-marks.ts';
export {
  createWaveWriter,
  type WaveWriter,
  type WaveWriterOptions,
  type WrittenWave,
  writeWave,
} from './wave-writer.ts';
