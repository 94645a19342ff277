import type { Tone } from '../../src/dance/find-calls.ts';

/** A clear tone of 0.15 s at 350 Hz, but for what is given. */
export const madeTone = (more: Partial<Tone> = {}): Tone => ({
  startS: 1,
  endS: 1.15,
  carrierHz: 350,
  riseHz: 0,
  ratio: 20,
  unevenness: 0.2,
  besideShare: 0.05,
  beforeShare: 0.05,
  afterShare: 0.05,
  slow: { ratio: 45, unevenness: 0.3, besideShare: 0.02, beforeShare: 0.1, afterShare: 0.1 },
  ...more,
});
